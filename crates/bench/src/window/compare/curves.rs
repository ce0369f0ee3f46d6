//! Both takes on one time strip, counted from the moment that current is switched on: amps, and the rise at the place
//! where heat started before.

use egui::{RichText, Sense, Ui, WidgetInfo};
use egui_plot::{Line, LineStyle, MarkerShape, Points, VLine};

use super::{
    super::{command::Command, panels::strip, screen::Screen, session::TakeView, words},
    CompareCommand, Compared,
};
use crate::theme::{Palette, SMALL};

/// Draws the strip.
pub fn show(ui: &mut Ui, compared: &Compared, screen: &Screen, out: &mut Vec<Command>) {
    let p = Palette::of(ui);
    let now_s = screen.compare.since_onset_s;
    let region = ui.available_rect_before_wrap();
    let response = ui.interact(region, ui.scope_id().with("compare strip"), Sense::focusable_noninteractive());
    response.widget_info(|| {
        WidgetInfo::slider(true, now_s, format!("Time strip: {now_s:.2} s since current was switched on"))
    });
    if response.has_focus() {
        let ring = egui::Stroke::new(2.0, p.accent);
        ui.painter().rect_stroke(region, 2.0, ring, egui::StrokeKind::Inside);
    }
    ui.horizontal_top(|ui| {
        ui.spacing_mut().item_spacing.y = 1.0;
        ui.vertical(|ui| {
            ui.set_width(strip::gutter(screen.narrow));
            legend(ui, compared, screen, now_s);
        });
        ui.vertical(|ui| plots(ui, compared, screen, now_s, out));
    });
}

fn legend(ui: &mut Ui, compared: &Compared, screen: &Screen, now_s: f64) {
    let p = Palette::of(ui);
    let small = |ui: &mut Ui, text: String, colour| {
        ui.add(egui::Label::new(RichText::new(text).size(SMALL).color(colour)).truncate());
    };
    small(ui, format!("{now_s:.2} s since current on"), p.text);
    small(ui, "amps: before line, after dashed".to_owned(), p.amps);
    if compared.curves.iter().all(Option::is_none) {
        small(ui, "no place to compare".to_owned(), p.weak);
        return;
    }
    small(ui, "rise at the place before:".to_owned(), p.text);
    let unit = words::unit(compared.check.unit);
    for ((view, curve), words) in views(compared).into_iter().zip(["dots before", "crosses after"]) {
        if screen.narrow && now_s < 0.0 {
            return;
        }
        let rise = curve.and_then(|c| c.rise.get(Compared::frame_at(view, now_s)).copied()).filter(|v| v.is_finite());
        let value = rise.map_or("no value".to_owned(), |v| words::plain(v, unit));
        small(ui, format!("{words} {value}"), p.weak);
    }
}

fn views(compared: &Compared) -> [(&TakeView, Option<&joulemark_locate::FootprintCurve>); 2] {
    [(&*compared.before, compared.curves[0].as_ref()), (&*compared.after, compared.curves[1].as_ref())]
}

fn plots(ui: &mut Ui, compared: &Compared, screen: &Screen, now_s: f64, out: &mut Vec<Command>) {
    let p = Palette::of(ui);
    let (first_s, last_s) = compared.span_s();
    let margin = ((last_s - first_s) * 0.01).max(1e-3);
    let room = ui.available_height() - 24.0;
    let most_amps = views(compared)
        .iter()
        .flat_map(|(v, _)| v.take.timeline.amps.iter().flatten())
        .fold(0.1_f64, |m, v| m.max(v.abs()));
    let rises = || views(compared).into_iter().filter_map(|(_, c)| c).flat_map(|c| &c.rise);
    let (low, high) = rises().filter(|v| v.is_finite()).fold((0.0_f64, 1e-6_f64), |(a, b), &v| (a.min(v), b.max(v)));
    let pad = (high - low) * 0.08;
    let rows = [
        ("compare amps", 0.34, (-0.15 * most_amps, 1.15 * most_amps)),
        ("compare rise", 0.66, (low - pad, high + pad)),
    ];
    for (index, (salt, share, (low, high))) in rows.into_iter().enumerate() {
        let last = index == 1;
        let height = room * share + if last { 20.0 } else { 0.0 };
        let shown = strip::plot(salt, height, last, Some((low, high))).show(ui, |plot| {
            plot.set_plot_bounds_x(first_s - margin..=last_s + margin);
            plot.set_plot_bounds_y(low..=high);
            plot.vline(VLine::new("current on", 0.0).color(p.hairline).width(1.0));
            for (which, (view, curve)) in views(compared).into_iter().enumerate() {
                let onset = Compared::onset_s(view);
                let since: Vec<f64> = view.take.timeline.time_s.iter().map(|t| t - onset).collect();
                if !last {
                    let style = if which == 0 { LineStyle::Solid } else { LineStyle::dashed_loose() };
                    for run in strip::runs(&since, &view.take.timeline.amps) {
                        plot.line(Line::new("", run).color(p.amps).style(style).width(1.5).allow_hover(false));
                    }
                } else if let Some(curve) = curve {
                    let (shape, radius, colour) = if which == 0 {
                        (MarkerShape::Circle, 1.5, p.weak)
                    } else {
                        (MarkerShape::Cross, 3.0, p.accent)
                    };
                    let marks = Points::new("", strip::points(&since, &curve.rise)).shape(shape);
                    plot.points(marks.radius(radius).color(colour).allow_hover(false));
                }
            }
            if screen.compare.at_time || !last {
                plot.vline(VLine::new("now", now_s).color(p.text).width(1.5));
            }
        });
        let r = &shown.response;
        if let Some(at) = r.interact_pointer_pos().filter(|_| r.dragged() || r.clicked()) {
            let time_s = shown.transform.value_from_position(at).x.clamp(first_s, last_s);
            out.push(Command::Compare(CompareCommand::Time(time_s)));
        }
        let _ = shown.response.on_hover_cursor(egui::CursorIcon::ResizeHorizontal);
    }
}
