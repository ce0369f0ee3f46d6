//! Everything a view can ask for. `App::apply` is the only place that carries commands out.

use std::path::PathBuf;

use super::{
    compare::CompareCommand,
    desk::DeskCommand,
    document::Edit,
    drawing::{Draw, import::ImportCommand, shelf::ShelfCommand},
    exercise::ExerciseCommand,
    form::Draft,
    handout::{HandoutCommand, HandoutFile},
    lining::LiningCommand,
    panels::{device::DeviceDraft, shop::ShopDraft},
    plan::PlanCommand,
    readings::ReadingsCommand,
    screen::{Bench, Fault, Layer, Over, Range},
    stage::Stage,
    survey::SurveyCommand,
};
use crate::{
    case::{intervention::Doing, shows::Shows},
    library::export::What,
    theme::ramp::ColourScale,
};

/// Which file a dialog is asked for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Pick {
    /// A case folder.
    Case,
    /// Frames in one file, for the form.
    FramesFile,
    /// A folder of frames, for the form.
    FramesFolder,
    /// The capture log, for the form.
    Log,
    /// The board drawing, for the form.
    Board,
    /// The point pairs, for the form.
    Pairs,
    /// The photo below the drawing.
    Photo,
    /// A design file for the drawing.
    Design,
    /// One more, for the design that is being imported.
    DesignToo,
    /// Where the face is written as SVG.
    ExportSvg,
    /// Where the drawing is written as `board.json`.
    ExportJson,
    /// Where a new case is saved.
    SaveCase,
    /// Where the bench card is written.
    BenchCard,
    /// Where the report is written.
    Report,
    /// Where the lesson shown is written.
    Handout(HandoutFile),
    /// The folder of the shop's library.
    LibraryFolder,
    /// Where the library is written as CSV.
    LibraryCsv(What),
    /// Where the desk's plots are written.
    LibraryPlots,
    /// A new folder for an exercise.
    MakeExercise,
    /// A class file to look at.
    ClassFile,
    /// Where a class is written in clear.
    ClassCsv,
}

/// A request of a view.
#[derive(Clone, Debug, PartialEq)]
pub enum Command {
    /// Change the case.
    Edit(Edit),
    /// Use the drawing bench.
    Draw(Draw),
    /// Begin a case with its drawing; the name may be empty.
    NewDrawing(String),
    /// Take the last change back.
    Undo,
    /// Do it again.
    Redo,
    /// Select a hot spot.
    SelectSpot(usize),
    /// Select a part, together with the hot spot it is suspected for.
    SelectPart(String),
    /// Select a suspect of a hot spot.
    SelectSuspect { spot: usize, part: String },
    /// Light all parts of a rail.
    SelectRail(String),
    /// Back out: close what is open, stop what runs, or select nothing.
    BackOut,
    /// Show this frame.
    SetFrame(usize),
    /// Step the frame.
    StepFrame(i64),
    /// Show a stage's tools.
    SetStage(Stage),
    /// Show a layer.
    SetLayer(Layer),
    /// Use a colour scale.
    SetScale(ColourScale),
    /// Choose the range.
    SetRange(Range),
    /// Keep layer and range when another take is shown, or no longer.
    KeepRange(bool),
    /// Lay a second layer over the first, or none.
    SetOver(Option<Over>),
    /// Fit the picture.
    Fit,
    /// Zoom about the middle of the map.
    Zoom(f32),
    /// Zoom to a part.
    ShowPart(String),
    /// Dark or light.
    SetBench(Bench),
    /// Open or close the command palette.
    Palette(bool),
    /// Open or close the list of keys.
    Keys(bool),
    /// Show a take, reading it first if need be.
    ShowTake(String),
    /// Open a file dialog.
    Pick(Pick),
    /// Take a path that was typed instead, or none.
    Typed(Pick, Option<PathBuf>),
    /// Open a case folder, or start a form from loose files.
    Open(Vec<PathBuf>),
    /// Open the bundled practice case.
    OpenPractice,
    /// Open the new-case form.
    NewCase(Box<Draft>),
    /// Open the form for one more take of the open case, with these files in it.
    AddTake(Vec<PathBuf>),
    /// The same for a take that eyes judge.
    AddPlainTake(Shows),
    /// Close the form.
    CloseForm,
    /// Look in the form's frames for when injection starts.
    ProposeOnset,
    /// Read what the form says, and locate it.
    LocateForm,
    /// Locate the shown take again.
    Locate,
    /// Stop a job.
    Cancel(u64),
    /// Save the case where it is, or ask where.
    Save,
    /// Show a fault.
    Fault(Box<Fault>),
    /// Close the fault.
    DismissFault,
    /// Spell the cautions out, or fold them.
    ShowCautions(bool),
    /// Tick a caution for the connection in force, or take the tick back.
    Acknowledge(String, bool),
    /// Leads off and on again.
    NewConnection,
    /// Say who is at the bench.
    By(String),
    /// Open or close the case log.
    CaseLog(bool),
    /// Use the readings stage.
    Readings(ReadingsCommand),
    /// Measure what is asked for next, or open the readings.
    Measure,
    /// Use the injection plan.
    Plan(PlanCommand),
    /// Open or close the list before filming.
    BeforeFilming(bool),
    /// Use the shop's library.
    Desk(DeskCommand),
    /// Use the student's desk, make exercises, look at a class.
    Exercise(ExerciseCommand),
    /// Use the repair check.
    Compare(CompareCommand),
    /// Use the handout stage.
    Handout(HandoutCommand),
    /// Use the millivolt survey.
    Survey(SurveyCommand),
    /// Open the dialog about the device.
    Device,
    /// Take over what it says.
    SetDevice(Box<DeviceDraft>),
    /// Open the dialog about the shop's letterhead.
    Shop,
    /// Remember what it says.
    SetShop(Box<ShopDraft>),
    /// Open the dialog about what was done, with what is proposed.
    AskDone(Doing, String),
    /// Something was done to a part, or to the board.
    Did(Doing, String),
    /// Line the picture up with the drawing.
    Lining(LiningCommand),
    /// Use the import dialog.
    Import(ImportCommand),
    /// Use the shelf's dialog.
    Shelf(ShelfCommand),
    /// Close the window.
    Quit,
    /// Carry a command out although changes would be lost.
    Regardless(Box<Command>),
}
