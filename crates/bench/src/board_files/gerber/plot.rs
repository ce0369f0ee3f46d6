//! What a layer draws: lines, arcs, regions and flashes in millimetres, each with the attributes in force.

use std::{collections::HashMap, path::Path};

use gerber_parser::{
    GerberDoc,
    gerber_types::{
        ApertureAttribute, ApertureBlock, ApertureFunction, AttributeDeletionCriterion, Command,
        ComponentCharacteristics, CoordinateMode, CoordinateNumber, Coordinates, DCode, ExtendedCode, FileAttribute,
        FileFunction, FunctionCode, GCode, InterpolationMode, Net, ObjectAttribute, Operation, Position, QuadrantMode,
        StepAndRepeat, Unit,
    },
};

use crate::{
    board_files::{
        MOST_ITEMS, Side,
        contours::{Line, arc},
    },
    case::BadInput,
};

/// Object attributes in force (specification, section 5.6).
#[derive(Clone, Debug, Default, PartialEq)]
pub(super) struct Object {
    pub(super) part: Option<String>,
    pub(super) pin_of: Option<String>,
    pub(super) rotation_deg: Option<f64>,
    pub(super) nets: Vec<String>,
}

/// A line, an arc or the contour of a region.
#[derive(Clone, Debug)]
pub(super) struct Shape {
    pub(super) line: Line,
    pub(super) function: Option<ApertureFunction>,
    pub(super) object: Object,
}

/// A flash.
#[derive(Clone, Debug)]
pub(super) struct Flash {
    pub(super) at: [f64; 2],
    pub(super) function: Option<ApertureFunction>,
    pub(super) object: Object,
}

/// A layer, walked through.
#[derive(Debug, Default)]
pub(super) struct Plot {
    pub(super) function: Option<FileFunction>,
    pub(super) shapes: Vec<Shape>,
    pub(super) flashes: Vec<Flash>,
    pub(super) notes: Vec<String>,
}

impl Plot {
    /// Which side a component layer is of.
    pub(super) fn side(&self) -> Side {
        match self.function {
            Some(FileFunction::Component { pos: Position::Bottom, .. }) => Side::Bottom,
            _ => Side::Top,
        }
    }

    pub(super) fn of(file: &Path, doc: &GerberDoc) -> anyhow::Result<Self> {
        let unit_mm = match doc.units {
            Some(Unit::Millimeters) => 1.0,
            Some(Unit::Inches) => 25.4,
            None => return Err(BadInput::at(file, "", "no unit (%MOMM*% or %MOIN*%)", "export the layer again")),
        };
        if doc.format_specification.is_some_and(|f| f.coordinate_mode == CoordinateMode::Incremental) {
            return Err(BadInput::at(
                file,
                "",
                "its coordinates are incremental",
                "export it with absolute coordinates",
            ));
        }
        let mut walk = Walk { unit_mm, ..Walk::default() };
        for command in doc.commands() {
            walk.step(command);
            if walk.plot.shapes.len() + walk.plot.flashes.len() + walk.points > 20 * MOST_ITEMS {
                return Err(BadInput::at(
                    file,
                    "",
                    "more lines than a profile has",
                    "give the profile or the component layer",
                ));
            }
        }
        walk.end_line();
        if walk.repeats {
            walk.plot.notes.push("repeated copies (step and repeat) were left out: one board is drawn".into());
        }
        Ok(walk.plot)
    }
}

#[derive(Default)]
struct Walk {
    plot: Plot,
    unit_mm: f64,
    at: [f64; 2],
    /// The line that goes on from move to move.
    line: Line,
    mode: Mode,
    single_quadrant: bool,
    region: bool,
    block: bool,
    repeats: bool,
    points: usize,
    aperture: Option<ApertureFunction>,
    apertures: HashMap<i32, Option<ApertureFunction>>,
    /// The attribute that apertures and regions get from now on.
    pending: Option<ApertureFunction>,
    object: Object,
}

#[derive(Clone, Copy, Default, PartialEq)]
enum Mode {
    #[default]
    Linear,
    Clockwise,
    Anticlockwise,
}

impl Walk {
    fn step(&mut self, command: &Command) {
        match command {
            Command::ExtendedCode(code) => self.extended(code),
            Command::FunctionCode(FunctionCode::GCode(code)) => match code {
                GCode::InterpolationMode(mode) => {
                    self.mode = match mode {
                        InterpolationMode::Linear => Mode::Linear,
                        InterpolationMode::ClockwiseCircular => Mode::Clockwise,
                        InterpolationMode::CounterclockwiseCircular => Mode::Anticlockwise,
                    }
                }
                GCode::RegionMode(on) => {
                    self.end_line();
                    self.region = *on;
                }
                GCode::QuadrantMode(mode) => self.single_quadrant = *mode == QuadrantMode::Single,
                _ => {}
            },
            Command::FunctionCode(FunctionCode::DCode(DCode::SelectAperture(code))) => {
                self.end_line();
                self.aperture = self.apertures.get(code).cloned().flatten();
            }
            Command::FunctionCode(FunctionCode::DCode(DCode::Operation(operation))) if !self.block => {
                self.operation(operation);
            }
            Command::FunctionCode(_) => {}
        }
    }

    fn operation(&mut self, operation: &Operation) {
        let to = |xy: &Option<Coordinates>, at: [f64; 2], mm: f64| {
            let get = |v: Option<CoordinateNumber>, old: f64| v.map_or(old, |n| f64::from(n) * mm);
            xy.as_ref().map_or(at, |c| [get(c.x, at[0]), get(c.y, at[1])])
        };
        match operation {
            Operation::Move(xy) => {
                self.end_line();
                self.at = to(xy, self.at, self.unit_mm);
            }
            Operation::Flash(xy) => {
                self.end_line();
                self.at = to(xy, self.at, self.unit_mm);
                let (function, object) = (self.aperture.clone(), self.object.clone());
                self.plot.flashes.push(Flash { at: self.at, function, object });
            }
            Operation::Interpolate(xy, offset) => {
                let end = to(xy, self.at, self.unit_mm);
                if self.line.is_empty() {
                    self.line.push(self.at);
                }
                let before = self.line.len();
                if self.mode == Mode::Linear {
                    self.line.push(end);
                } else {
                    let get = |v: Option<CoordinateNumber>| v.map_or(0.0, |n| f64::from(n) * self.unit_mm);
                    let [i, j] = offset.as_ref().map_or([0.0; 2], |o| [get(o.x), get(o.y)]);
                    let curve = self.curve(end, [i, j]);
                    self.line.extend(curve);
                }
                self.points += self.line.len() - before;
                self.at = end;
            }
        }
    }

    /// Specification, section 4.7: the centre is the start plus I, J; clockwise or not as seen with y upwards.
    fn curve(&self, end: [f64; 2], [i, j]: [f64; 2]) -> Line {
        let start = self.at;
        let anticlockwise = self.mode == Mode::Anticlockwise;
        let sweep = |centre: [f64; 2]| {
            let angle = |p: [f64; 2]| (p[1] - centre[1]).atan2(p[0] - centre[0]);
            let mut turn = angle(end) - angle(start);
            if anticlockwise && turn <= 0.0 {
                turn += std::f64::consts::TAU;
            } else if !anticlockwise && turn >= 0.0 {
                turn -= std::f64::consts::TAU;
            }
            turn
        };
        let (centre, turn) = if self.single_quadrant {
            // Section 8.1.10: I and J carry no sign; of four centres the one that makes an arc of at most 90 degrees
            // with the most equal radii.
            let radii = |c: [f64; 2]| {
                let r = |p: [f64; 2]| (p[0] - c[0]).hypot(p[1] - c[1]);
                (r(start) - r(end)).abs()
            };
            let centres = [(1.0, 1.0), (1.0, -1.0), (-1.0, 1.0), (-1.0, -1.0)]
                .map(|(sx, sy)| [start[0] + sx * i.abs(), start[1] + sy * j.abs()]);
            let limit = std::f64::consts::FRAC_PI_2 + 1e-3;
            let fits =
                centres.into_iter().filter(|c| sweep(*c).abs() <= limit).min_by(|a, b| radii(*a).total_cmp(&radii(*b)));
            match fits {
                Some(centre) => (centre, sweep(centre)),
                None => return vec![end],
            }
        } else {
            let centre = [start[0] + i, start[1] + j];
            (centre, sweep(centre))
        };
        let mut points = arc(start, centre, turn);
        // Radii at both ends differ by rounding; the stated end holds.
        if let Some(last) = points.last_mut() {
            *last = end;
        }
        points
    }

    fn end_line(&mut self) {
        let line = std::mem::take(&mut self.line);
        if line.len() > 1 {
            let function = if self.region { self.pending.clone() } else { self.aperture.clone() };
            self.plot.shapes.push(Shape { line, function, object: self.object.clone() });
        }
    }

    fn extended(&mut self, code: &ExtendedCode) {
        match code {
            ExtendedCode::FileAttribute(FileAttribute::FileFunction(function)) => {
                self.plot.function = Some(function.clone());
            }
            ExtendedCode::ApertureDefinition(definition) => {
                self.apertures.insert(definition.code, self.pending.clone());
            }
            ExtendedCode::ApertureAttribute(ApertureAttribute::ApertureFunction(function)) => {
                self.pending = Some(function.clone());
            }
            ExtendedCode::ObjectAttribute(attribute) => {
                self.end_line();
                self.attribute(attribute);
            }
            ExtendedCode::DeleteAttribute(which) => {
                self.end_line();
                match which {
                    AttributeDeletionCriterion::AllApertureAndObjectAttributes => {
                        self.pending = None;
                        self.object = Object::default();
                    }
                    AttributeDeletionCriterion::SingleApertureAttribute(_) => self.pending = None,
                    AttributeDeletionCriterion::SingleObjectAttribute(name) => match name.as_str() {
                        ".C" => self.object.part = None,
                        ".CRot" => self.object.rotation_deg = None,
                        ".P" => self.object.pin_of = None,
                        ".N" => self.object.nets.clear(),
                        // Deleting one name deletes whichever attribute has it; the parser may take .AperFunction here.
                        ".AperFunction" => self.pending = None,
                        _ => {}
                    },
                }
            }
            ExtendedCode::ApertureBlock(block) => {
                self.block = matches!(block, ApertureBlock::Open { .. });
            }
            ExtendedCode::StepAndRepeat(StepAndRepeat::Open { repeat_x, repeat_y, .. }) => {
                self.repeats |= *repeat_x > 1 || *repeat_y > 1;
            }
            _ => {}
        }
    }

    fn attribute(&mut self, attribute: &ObjectAttribute) {
        match attribute {
            ObjectAttribute::Component(part) => {
                if self.object.part.as_ref() != Some(part) {
                    self.object.rotation_deg = None;
                }
                self.object.part = Some(part.clone());
            }
            ObjectAttribute::ComponentCharacteristics(ComponentCharacteristics::Rotation(angle)) => {
                self.object.rotation_deg = Some(*angle);
            }
            ObjectAttribute::Pin(pin) => self.object.pin_of = Some(pin.refdes.clone()),
            ObjectAttribute::Net(Net::Connected(nets)) => self.object.nets = nets.clone(),
            ObjectAttribute::Net(_) => self.object.nets.clear(),
            _ => {}
        }
    }
}
