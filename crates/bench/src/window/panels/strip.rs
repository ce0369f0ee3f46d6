//! The time strip: supply volts and amps, the selected hot spot's curve with its fit, and the residual, over one time
//! axis with a cursor that can be dragged.

use egui::{Color32, RichText, Sense, Ui, Vec2b, WidgetInfo, accesskit::Action};
use egui_plot::{
    AxisHints, HoverPosition, Line, LineStyle, MarkerShape, Plot, PlotPoints, PlotUi, Points, Span, VLine,
};
use joulemark_frames::Timeline;
use joulemark_locate::{FootprintCurve, HotSpot};

use super::{
    super::{command::Command, engine::EventView, screen::Screen, session::TakeView, words},
    watch_marks,
};
use crate::theme::{self, Palette, SMALL};

/// Height of the strip.
pub fn height(narrow: bool) -> f32 {
    if narrow { 116.0 } else { 216.0 }
}

/// Width of the words left of the plots.
pub(in crate::window) fn gutter(narrow: bool) -> f32 {
    if narrow { 132.0 } else { 176.0 }
}

/// One row of the strip.
struct Row<'a> {
    salt: &'static str,
    height: f32,
    with_time: bool,
    /// Lower and upper end, and whether marks say so.
    low_high: (f64, f64),
    marked: bool,
    draw: Box<dyn Fn(&mut PlotUi<'a>) + 'a>,
}

/// Draws the strip.
pub fn show(ui: &mut Ui, view: &TakeView, events: &[EventView], screen: &mut Screen, out: &mut Vec<Command>) {
    let p = Palette::of(ui);
    let timeline = &view.take.timeline;
    let frames = timeline.len();
    let Some(&now_s) = timeline.time_s.get(screen.frame.min(frames.saturating_sub(1))) else {
        ui.label("This take has no frames.");
        return;
    };
    let region = ui.available_rect_before_wrap();
    let response = ui.interact(region, ui.scope_id().with("time strip"), Sense::focusable_noninteractive());
    let injecting = timeline.injecting.get(screen.frame).copied().unwrap_or(false);
    let doing = if injecting { "injecting" } else { "not injecting" };
    response.widget_info(|| {
        let label = format!("Time strip: frame {} of {frames}, {now_s:.2} s, {doing}", screen.frame);
        WidgetInfo::slider(true, screen.frame as f64, label)
    });
    ui.ctx().accesskit_node_builder(response.id, |node| {
        node.add_action(Action::Increment);
        node.add_action(Action::Decrement);
    });
    for (action, step) in [(Action::Increment, 1), (Action::Decrement, -1)] {
        let count = ui.input(|i| i.num_accesskit_action_requests(response.id, action)) as i64;
        if count > 0 {
            out.push(Command::StepFrame(step * count));
        }
    }
    if response.has_focus() {
        let ring = egui::Stroke::new(2.0, p.accent);
        ui.painter().rect_stroke(region, 2.0, ring, egui::StrokeKind::Inside);
    }
    let spot = view
        .located
        .as_ref()
        .and_then(|l| Some((screen.lit_spot().unwrap_or(0), l.hot_spots.get(screen.lit_spot().unwrap_or(0))?)));
    ui.horizontal_top(|ui| {
        ui.spacing_mut().item_spacing.y = 1.0;
        ui.vertical(|ui| {
            ui.set_width(gutter(screen.narrow));
            legend(ui, view, screen, now_s, doing, spot);
        });
        ui.vertical(|ui| plots(ui, view, events, screen, now_s, spot, out));
    });
}

fn legend(ui: &mut Ui, view: &TakeView, screen: &Screen, now_s: f64, doing: &str, spot: Option<(usize, &HotSpot)>) {
    let p = Palette::of(ui);
    let timeline = &view.take.timeline;
    let at = |values: &[Option<f64>]| values.get(screen.frame).copied().flatten();
    let small = |ui: &mut Ui, text: String, colour: Color32| {
        ui.add(egui::Label::new(RichText::new(text).size(SMALL).color(colour)).truncate());
    };
    small(ui, format!("frame {}  {now_s:.2} s", screen.frame), p.text);
    small(ui, doing.to_owned(), p.weak);
    let reading = |what: &str, value: Option<f64>, unit: &str| {
        value.map_or_else(|| format!("{what} not logged"), |v| format!("{what} {}", words::plain(v, unit)))
    };
    small(ui, reading("volts (line)", at(&timeline.volts), "V"), p.volts);
    small(ui, reading("amps (dashed)", at(&timeline.amps), "A"), p.amps);
    let part = screen.curve_of_part(view.serial);
    if let Some((name, curve)) = part {
        let over = if curve.pixels == 1 { "1 pixel".to_owned() } else { format!("{} pixels", curve.pixels) };
        let now = curve.rise.get(screen.frame).copied().unwrap_or(f64::NAN);
        let unit = words::unit(view.take.unit);
        let value = match curve.sigma {
            _ if now.is_nan() => "no value".to_owned(),
            Some(sigma) => words::measured(now, sigma, unit),
            None => words::plain(now, unit),
        };
        small(ui, format!("crosses: {name}, mean of {over}"), p.caution);
        // Half the height holds no more; the part's own section says the rest.
        if screen.narrow {
            return;
        }
        small(ui, format!("{name} now {value}"), p.text);
    }
    let Some((index, spot)) = spot else {
        small(ui, "no hot spot to show".to_owned(), p.weak);
        return;
    };
    small(ui, format!("rise at hot spot {}", index + 1), p.text);
    // With a part read as well, the gutter holds no more.
    if part.is_some() {
        small(ui, "dots measured, line fit".to_owned(), p.weak);
        return;
    }
    if screen.narrow {
        return;
    }
    small(ui, "dots measured, line fit".to_owned(), p.weak);
    small(ui, words::with_doubt(spot.rise.end, spot.rise.end_se, view.take.unit), p.text);
    small(ui, time_constant(spot), p.text);
    if !spot.rise.converged {
        small(ui, "the fit did not settle".to_owned(), p.caution);
    }
    // The lowest plot is too flat for marks of its own.
    let most = words::plain(largest_residual(spot), words::unit(view.take.unit));
    small(ui, format!("below: residual, up to {most}"), p.weak);
}

/// The time constant in words, with its doubt or its bound.
fn time_constant(spot: &HotSpot) -> String {
    use joulemark_locate::TimeConstant;
    match spot.rise.time_constant {
        TimeConstant::Known { tau_s, tau_se_s, .. } => {
            format!("time constant {}", words::measured(tau_s, tau_se_s, "s"))
        }
        TimeConstant::Between { low_s, high_s } => format!("time constant {low_s:.1} to {high_s:.1} s"),
        TimeConstant::Unknown => "time constant not known".to_owned(),
        TimeConstant::AtLeast { tau_s } => format!("time constant above {tau_s:.1} s"),
        TimeConstant::AtMost { tau_s } => format!("time constant below {tau_s:.1} s"),
    }
}

fn plots(
    ui: &mut Ui,
    view: &TakeView,
    events: &[EventView],
    screen: &mut Screen,
    now_s: f64,
    spot: Option<(usize, &HotSpot)>,
    out: &mut Vec<Command>,
) {
    let p = Palette::of(ui);
    let timeline = &view.take.timeline;
    let total = ui.available_height();
    // The axis of time takes about this much under the lowest plot.
    let axis = 20.0;
    let shares: &[f32] = if screen.narrow { &[0.36, 0.64] } else { &[0.26, 0.5, 0.24] };
    let room = total - axis - 2.0 * shares.len() as f32;
    let last = shares.len() - 1;
    let part = screen.curve_of_part(view.serial);
    let mut rows: Vec<Row<'_>> = Vec::new();
    for (index, share) in shares.iter().enumerate() {
        let height = room * share + if index == last { axis } else { 0.0 };
        rows.push(match (index, spot) {
            (0, _) => supply(timeline, p, height),
            (1, spot) if spot.is_some() || part.is_some() => {
                curve(spot.map(|(_, s)| s), part.map(|(_, c)| c), p, height)
            }
            (_, Some((_, spot))) => residual(spot, p, height),
            (_, None) => Row {
                salt: if index == 1 { "curve" } else { "residual" },
                height,
                with_time: false,
                low_high: (0.0, 1.0),
                marked: false,
                draw: Box::new(|_| {}),
            },
        });
    }
    if let Some(row) = rows.last_mut() {
        row.with_time = true;
    }
    let spans = spans(timeline);
    let (first_s, last_s) = (timeline.time_s[0], timeline.time_s[timeline.len() - 1]);
    let margin = ((last_s - first_s) * 0.01).max(1e-3);
    for (index, row) in rows.into_iter().enumerate() {
        let (low, high) = row.low_high;
        let draw = row.draw;
        let spans = spans.clone();
        let response =
            plot(row.salt, row.height, row.with_time, row.marked.then_some((low, high))).show(ui, move |plot| {
                plot.set_plot_bounds_x(first_s - margin..=last_s + margin);
                plot.set_plot_bounds_y(low..=high);
                for (from, to) in &spans {
                    let name = if index == 0 { "inject" } else { "" };
                    plot.span(
                        Span::new(name, *from..=*to).fill(p.injecting).border_color(p.hairline).border_width(1.0),
                    );
                }
                if index == 0
                    && let Some((from, _)) = spans.first()
                    && *from > first_s
                {
                    plot.span(
                        Span::new("before", first_s..=*from).fill(Color32::from_black_alpha(1)).border_width(0.0),
                    );
                }
                draw(plot);
                plot.vline(VLine::new("now", now_s).color(p.text).width(1.5).style(LineStyle::Solid));
            });
        let r = &response.response;
        if let Some(at) = r.interact_pointer_pos().filter(|_| r.dragged() || r.clicked()) {
            let time_s = response.transform.value_from_position(at).x;
            out.push(Command::SetFrame(nearest(&timeline.time_s, time_s)));
        }
        if index == 0 {
            watch_marks::show(ui, &response.transform, &timeline.time_s, events, out);
        }
        let _ = response.response.on_hover_cursor(egui::CursorIcon::ResizeHorizontal);
    }
}

/// A row's plot: it is looked at and dragged over, and never zooms by itself. `marked` is the range whose marks are written.
pub(in crate::window) fn plot<'a>(salt: &str, height: f32, with_time: bool, marked: Option<(f64, f64)>) -> Plot<'a> {
    Plot::new(salt)
        .height(height.max(24.0))
        .allow_drag(false)
        .allow_zoom(false)
        .allow_scroll(false)
        .allow_boxed_zoom(false)
        .allow_double_click_reset(false)
        .allow_axis_zoom_drag(false)
        .show_axes(Vec2b::new(with_time, true))
        .show_x(false)
        .show_y(false)
        .set_margin_fraction(egui::Vec2::ZERO)
        .custom_x_axes(vec![time_axis()])
        .custom_y_axes(vec![value_axis(marked.is_some())])
        .y_grid_spacer(move |_| marked.map_or_else(Vec::new, |(low, high)| ticks(low, high)))
        .label_formatter(|_: &HoverPosition<'_>| None)
        .sense(Sense::click_and_drag())
}

fn supply<'a>(timeline: &'a Timeline, p: &'static Palette, height: f32) -> Row<'a> {
    let readings = timeline.volts.iter().chain(&timeline.amps).flatten();
    let (low, high) = readings.fold((0.0_f64, 0.1_f64), |(a, b), &v| (a.min(v), b.max(v)));
    let pad = (high - low) * 0.22;
    Row {
        salt: "supply",
        height,
        with_time: false,
        low_high: (low - pad, high + pad),
        marked: true,
        draw: Box::new(move |plot| {
            let series =
                [(&timeline.volts, p.volts, LineStyle::Solid), (&timeline.amps, p.amps, LineStyle::dashed_loose())];
            for (values, colour, style) in series {
                for run in runs(&timeline.time_s, values) {
                    plot.line(Line::new("", run).color(colour).style(style).width(1.5).allow_hover(false));
                }
            }
        }),
    }
}

/// The curve at the spot with its fit, and the mean over the selected part.
fn curve<'a>(spot: Option<&'a HotSpot>, part: Option<&'a FootprintCurve>, p: &'static Palette, height: f32) -> Row<'a> {
    let at_spot = spot.into_iter().flat_map(|s| s.curve.measured.iter().chain(&s.curve.fitted));
    let all = at_spot.chain(part.into_iter().flat_map(|c| &c.rise)).filter(|v| v.is_finite());
    let (low, high) = all.fold((0.0_f64, 1e-6_f64), |(a, b), &v| (a.min(v), b.max(v)));
    let pad = (high - low) * 0.08;
    Row {
        salt: "curve",
        height,
        with_time: false,
        low_high: (low - pad, high + pad),
        marked: true,
        draw: Box::new(move |plot| {
            if let Some(curve) = spot.map(|s| &s.curve) {
                let measured = points(&curve.time_s, &curve.measured);
                let marks = Points::new("measured", measured).shape(MarkerShape::Circle).radius(1.5).allow_hover(false);
                plot.points(marks.color(p.weak));
                let fitted = points(&curve.time_s, &curve.fitted);
                plot.line(Line::new("fit", fitted).color(p.accent).width(2.0).allow_hover(false));
            }
            if let Some(curve) = part {
                let marks = Points::new("part", points(&curve.time_s, &curve.rise)).shape(MarkerShape::Cross);
                plot.points(marks.radius(3.0).color(p.caution).allow_hover(false));
            }
        }),
    }
}

pub(in crate::window) fn points<'a>(time_s: &[f64], values: &[f64]) -> PlotPoints<'a> {
    time_s.iter().zip(values).filter(|(_, v)| v.is_finite()).map(|(&t, &v)| [t, v]).collect()
}

/// Largest difference between the curve and its fit, in the take's unit.
fn largest_residual(spot: &HotSpot) -> f64 {
    let pairs = spot.curve.measured.iter().zip(&spot.curve.fitted);
    pairs.map(|(m, f)| (m - f).abs()).filter(|v| v.is_finite()).fold(0.0, f64::max)
}

fn residual<'a>(spot: &'a HotSpot, p: &'static Palette, height: f32) -> Row<'a> {
    let curve = &spot.curve;
    let difference = move || curve.measured.iter().zip(&curve.fitted).map(|(m, f)| m - f);
    let most = largest_residual(spot).max(1e-6);
    Row {
        salt: "residual",
        height,
        with_time: false,
        low_high: (-1.15 * most, 1.15 * most),
        marked: true,
        draw: Box::new(move |plot| {
            let points: PlotPoints<'_> = curve.time_s.iter().zip(difference()).map(|(&t, v)| [t, v]).collect();
            plot.points(Points::new("residual", points).radius(1.25).color(p.weak).allow_hover(false));
        }),
    }
}

fn time_axis() -> AxisHints<'static> {
    AxisHints::new_x()
        .formatter(|mark, _| format!("{} s", round(mark.value)))
        .label_spacing(egui::Rangef::new(44.0, 64.0))
        .tick_label_font(theme::small())
}

/// The rows share their left edge through a common width of the axis.
fn value_axis(marked: bool) -> AxisHints<'static> {
    AxisHints::new_y()
        .formatter(move |mark, _| if marked { round(mark.value) } else { String::new() })
        .label_spacing(egui::Rangef::new(6.0, 10.0))
        .tick_label_font(theme::small())
        .min_thickness(44.0)
}

/// Unbroken runs of readings.
pub(in crate::window) fn runs(time_s: &[f64], values: &[Option<f64>]) -> Vec<PlotPoints<'static>> {
    let mut runs: Vec<Vec<[f64; 2]>> = vec![Vec::new()];
    for (&t, value) in time_s.iter().zip(values) {
        match value {
            Some(v) => runs.last_mut().into_iter().for_each(|run| run.push([t, *v])),
            None => runs.push(Vec::new()),
        }
    }
    runs.into_iter().filter(|r| !r.is_empty()).map(PlotPoints::new).collect()
}

/// From when to when current is injected.
fn spans(timeline: &Timeline) -> Vec<(f64, f64)> {
    let mut spans = Vec::new();
    let mut since = None;
    for (i, (&t, &on)) in timeline.time_s.iter().zip(&timeline.injecting).enumerate() {
        match (since, on) {
            (None, true) => since = Some(t),
            (Some(from), false) => {
                spans.push((from, timeline.time_s[i - 1]));
                since = None;
            }
            _ => {}
        }
    }
    if let (Some(from), Some(&last)) = (since, timeline.time_s.last()) {
        spans.push((from, last));
    }
    spans
}

/// The frame nearest to a time.
pub(in crate::window) fn nearest(time_s: &[f64], wanted_s: f64) -> usize {
    let after = time_s.partition_point(|&t| t < wanted_s);
    let before = after.saturating_sub(1);
    match (time_s.get(before), time_s.get(after)) {
        (Some(a), Some(b)) if wanted_s - a > b - wanted_s => after,
        (Some(_), _) => before,
        _ => 0,
    }
}

/// Two or three marks that fit the height.
fn ticks(low: f64, high: f64) -> Vec<egui_plot::GridMark> {
    let span = high - low;
    let decade = 10f64.powf((span / 2.0).log10().floor());
    let step = [5.0, 2.0, 1.0].into_iter().map(|s| s * decade).find(|s| *s <= span / 1.6).unwrap_or(span);
    let first = (low / step).ceil() as i64;
    let last = (high / step).floor() as i64;
    // A bound against absurd ranges; three marks are the rule.
    (first..=last.min(first + 8)).map(|i| egui_plot::GridMark { value: i as f64 * step, step_size: step }).collect()
}

fn round(value: f64) -> String {
    let text = format!("{value:.3}");
    let short = text.trim_end_matches('0').trim_end_matches('.');
    if short == "-0" { "0".to_owned() } else { short.to_owned() }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_nearest_frame_is_found_at_and_between_and_beyond() {
        let t = [0.0, 1.0, 2.0];
        for (wanted, frame) in [(-5.0, 0), (0.4, 0), (0.6, 1), (1.0, 1), (1.51, 2), (9.0, 2)] {
            assert_eq!(nearest(&t, wanted), frame, "{wanted}");
        }
        assert_eq!(nearest(&[], 1.0), 0);
    }

    #[test]
    fn injection_spans_are_found_at_the_ends_too() {
        let mut timeline = Timeline::steady(6, 1.0);
        timeline.injecting = vec![true, false, false, true, true, true];
        assert_eq!(spans(&timeline), [(0.0, 0.0), (3.0, 5.0)]);
    }

    #[test]
    fn blank_readings_break_the_line() {
        let broken = runs(&[0.0, 1.0, 2.0, 3.0], &[Some(1.0), None, Some(2.0), Some(3.0)]);
        assert_eq!(broken.iter().map(|r| r.points().len()).collect::<Vec<_>>(), [1, 2]);
    }

    #[test]
    fn few_round_marks() {
        for (low, high) in [(0.0, 1.9), (-0.05, 0.05), (-0.1, 1.3), (0.0, 700.0)] {
            let marks = ticks(low, high);
            assert!((1..=5).contains(&marks.len()), "{low} {high}: {}", marks.len());
        }
        assert_eq!(round(0.5), "0.5");
        assert_eq!(round(-0.0), "0");
    }
}
