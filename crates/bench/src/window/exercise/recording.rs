//! The take: layers with what they cost, the map, time that is scrubbed and played, and the curve at the cross.

use std::sync::Arc;

use egui::{Color32, Frame, Panel, RichText, Slider, Ui};
use egui_plot::{MarkerShape, Points};

use super::{
    super::{
        command::Command,
        lining::LiningCommand,
        map::{readout, texture::MapTexture},
        panels::strip::{plot, points},
        screen::{Layer, Screen},
        session::{Session, TakeView},
        words,
    },
    ExerciseCommand, is_plain, pane,
};
use crate::{
    case::exercise::{Exercise, Look},
    lesson::Plays,
    theme::{self, Palette, SMALL},
};

/// Height of the curve, in points.
const CURVE: f32 = 96.0;

/// Draws the recording.
pub(super) fn show(
    ui: &mut Ui,
    session: &Session,
    exercise: &Exercise,
    screen: &mut Screen,
    textures: &mut [MapTexture; 2],
    out: &mut Vec<Command>,
) {
    let bar = Frame::new().fill(Palette::of(ui).panel).inner_margin(theme::margin());
    let Some(view) = session.view().cloned() else {
        ui.label("The take could not be read.");
        return;
    };
    Panel::top("exercise layers").frame(bar).show(ui, |ui| layers(ui, session, exercise, screen, out));
    // Only maps without their answers are looked at.
    let looked: Arc<TakeView> = match &session.results.maps {
        Some(maps) if screen.layer.needs_answer() => Arc::clone(maps),
        _ => view,
    };
    Panel::bottom("exercise time").frame(bar).show(ui, |ui| time(ui, &looked, screen, &textures[0], out));
    pane::picture(ui, session, &looked, screen, textures, out);
}

fn layers(ui: &mut Ui, session: &Session, exercise: &Exercise, screen: &Screen, out: &mut Vec<Command>) {
    let p = Palette::of(ui);
    let ready = session.results.maps.is_some();
    ui.horizontal_wrapped(|ui| {
        for layer in [Layer::Frame, Layer::Before, Layer::FrameRise, Layer::Rise, Layer::Z, Layer::TimeConstant] {
            let cost = match () {
                () if is_plain(layer) || exercise.open() => "",
                () if exercise.has_seen(layer) => " (seen)",
                () => " (1 look)",
            };
            let button = egui::Button::selectable(screen.layer == layer, format!("{}{cost}", layer.words()));
            if ui.add_enabled(ready || layer == Layer::Frame, button).clicked() {
                out.push(Command::Exercise(ExerciseCommand::Look(layer)));
            }
        }
        let (answers, _) = pane::shown(session);
        let here = answers.place.filter(|p| session.face().is_some_and(|f| f.name == p.face));
        let seen = here.as_ref().is_some_and(|p| exercise.looks.contains(&Look::Curve(p.clone())));
        let cost = if exercise.open() || seen { "" } else { " (1 look)" };
        let button = ui.add_enabled(here.is_some(), egui::Button::new(format!("Curve at the cross{cost}")));
        if button.on_disabled_hover_text("Put the cross on this face first").clicked() {
            out.push(Command::Exercise(ExerciseCommand::LookCurve));
        }
        if ui
            .button("Line up\u{2026}")
            .on_hover_text("See and correct how picture and drawing lie on each other")
            .clicked()
        {
            out.push(Command::Lining(LiningCommand::Open));
        }
        if let Some(why) = &session.results.fault {
            ui.label(RichText::new(format!("There are no maps: {why}")).size(SMALL).color(p.refusal));
        } else if !ready {
            ui.label(RichText::new("The maps are being worked out\u{2026}").size(SMALL).color(p.weak));
        }
    });
}

fn time(ui: &mut Ui, view: &TakeView, screen: &mut Screen, texture: &MapTexture, out: &mut Vec<Command>) {
    let p = Palette::of(ui);
    let timeline = &view.take.timeline;
    let last = timeline.len().saturating_sub(1);
    if let Some(playing) = screen.exercise.playing {
        let whole = Plays { from: 0, to: last, speed: 1.0 };
        let frame = playing.frame(whole, &timeline.time_s, ui.input(|i| i.time));
        if frame != screen.frame {
            out.push(Command::SetFrame(frame));
        }
        if frame >= last {
            out.push(Command::Exercise(ExerciseCommand::Play(false)));
        }
        ui.ctx().request_repaint();
    }
    if let Some((place, curve)) = &screen.exercise.curve {
        let finite = || curve.rise.iter().copied().filter(|v| v.is_finite());
        let (low, high) = finite().fold((0.0_f64, 1e-6_f64), |(a, b), v| (a.min(v), b.max(v)));
        let pad = 0.1 * (high - low);
        let over = if curve.pixels == 1 { "1 pixel".to_owned() } else { format!("{} pixels", curve.pixels) };
        let unit = words::unit(view.take.unit);
        let text = format!("Curve at {:.2}, {:.2} mm, mean of {over}, in {unit}", place.x_mm, place.y_mm);
        ui.label(RichText::new(text).size(SMALL).color(p.weak));
        let now_s = timeline.time_s.get(screen.frame).copied().unwrap_or(0.0);
        let onset_s = timeline.first_injected().and_then(|f| timeline.time_s.get(f)).copied();
        plot("exercise curve", CURVE, true, Some((low - pad, high + pad))).show(ui, |plot| {
            plot.set_plot_bounds_y(low - pad..=high + pad);
            let marks = Points::new("curve", points(&curve.time_s, &curve.rise)).shape(MarkerShape::Circle);
            plot.points(marks.radius(1.75).color(p.accent).allow_hover(false));
            plot.vline(egui_plot::VLine::new("now", now_s).color(p.text).width(1.5));
            if let Some(onset_s) = onset_s {
                plot.vline(
                    egui_plot::VLine::new("onset", onset_s).color(p.weak).style(egui_plot::LineStyle::dashed_loose()),
                );
            }
        });
    }
    let line = readout::line(view, screen, texture).unwrap_or_else(|| "Point at the map to read it.".to_owned());
    ui.add(egui::Label::new(RichText::new(line).size(SMALL).color(p.text)).truncate());
    ui.horizontal(|ui| {
        let playing = screen.exercise.playing.is_some();
        if ui.button(if playing { "Stop" } else { "Play" }).clicked() {
            out.push(Command::Exercise(ExerciseCommand::Play(!playing)));
        }
        let mut frame = screen.frame.min(last);
        ui.spacing_mut().slider_width = (ui.available_width() - 260.0).max(120.0);
        let slider = ui.add(Slider::new(&mut frame, 0..=last).show_value(false));
        if slider.accessible_name("Frame").changed() {
            out.push(Command::Exercise(ExerciseCommand::Play(false)));
            out.push(Command::SetFrame(frame));
        }
        let now_s = timeline.time_s.get(frame).copied().unwrap_or(0.0);
        let on = timeline.injecting.get(frame).copied().unwrap_or(false);
        let doing = if on { "current flows" } else { "no current" };
        let colour: Color32 = if on { p.caution } else { p.weak };
        ui.label(RichText::new(format!("{now_s:.2} s  frame {frame}  {doing}")).size(SMALL).color(colour));
    });
}
