//! Both takes on the board: beside each other, over each other, or subtracted.

use egui::{Align2, Color32, CursorIcon, Key, Painter, Rect, Sense, Stroke, Ui, WidgetInfo, pos2, vec2};

use super::{
    super::{
        command::Command,
        drawing::{
            Drawing, marks,
            view::{DrawingView, UiFromBoard},
        },
        map::{
            furniture, overlay_text,
            texture::{MapTexture, Shown},
            view::zoom_asked,
        },
        screen::{Layer, Range, Screen},
        session::{Session, TakeView},
        words,
    },
    CompareCommand, CompareScreen, Compared, How, act,
    picture::{self, DifferenceTexture},
};
use crate::theme::{self, HALO, OVER_MAP, Palette, SPACE, SUSPECT_OVER_MAP, ramp};

/// Seconds that either take stays in sight while blinking. Below three changes a second, as WCAG 2.2, success criterion
/// 2.3.1 asks.
const BLINK_S: f64 = 0.7;
/// A step of the wipe's line by key, as a share of the canvas.
const WIPE_STEP: f32 = 0.05;
/// How wide the wipe's line is to the pointer.
const GRIP: f32 = 14.0;

/// What stands in the place of two takes that are not there.
pub(super) fn nothing_yet(ui: &mut Ui, session: &Session, chosen: &CompareScreen, busy: bool, out: &mut Vec<Command>) {
    ui.vertical_centered(|ui| {
        ui.add_space(ui.available_height() * 0.3);
        if busy {
            ui.label("Reading and comparing\u{2026}");
        } else if act::pair(&session.document.case, chosen).is_none() {
            ui.label("The proof needs two takes: one before the repair and one after it, filmed alike.");
            ui.label("Say what was done to the board, then film it again within the same limits.");
            ui.add_space(SPACE);
            if ui.button("Add the take after the repair").clicked() {
                out.push(Command::AddTake(Vec::new()));
            }
        } else {
            ui.label("The two takes are not compared yet.");
            ui.add_space(SPACE);
            if ui.button("Compare them").clicked() {
                out.push(Command::Compare(CompareCommand::Run));
            }
        }
    });
}

/// One view of the board: where it is drawn, what is clipped, and the take in it.
struct Pane<'a> {
    clip: Rect,
    map: UiFromBoard,
    view: &'a TakeView,
    which: usize,
    title: String,
}

pub(super) fn show(
    ui: &mut Ui,
    session: &Session,
    compared: &Compared,
    screen: &mut Screen,
    textures: &mut [MapTexture; 2],
    difference: &mut DifferenceTexture,
    out: &mut Vec<Command>,
) {
    let p = Palette::of(ui);
    let canvas = ui.available_rect_before_wrap();
    let response = ui.allocate_rect(canvas, Sense::click_and_drag());
    let (before, after) = compared.names();
    let how = screen.compare.how;
    let label = format!("Comparison: {}, {before} before, {after} after", how.words().to_lowercase());
    response.widget_info(|| WidgetInfo::labeled(egui::Role::Canvas, true, &label));
    let halves = [
        Rect::from_min_max(canvas.min, pos2(canvas.center().x - 1.0, canvas.max.y)),
        Rect::from_min_max(pos2(canvas.center().x + 1.0, canvas.min.y), canvas.max),
    ];
    let face = session.board.face(&compared.before.inputs.face);
    let room = if how == How::SideBySide { halves[0] } else { canvas };
    let mut view = screen.compare.view.unwrap_or_else(|| DrawingView::fit(face, room.size()));
    let was = view;
    if response.dragged() {
        view.pan(response.drag_delta());
    }
    let pointer = ui.input(|i| i.pointer.hover_pos()).filter(|p| canvas.contains(*p) && response.contains_pointer());
    if let Some(pointer) = pointer {
        let factor = zoom_asked(ui);
        if (factor - 1.0).abs() > 1e-4 {
            let under = if how == How::SideBySide && halves[1].contains(pointer) { halves[1] } else { room };
            view.zoom(factor, pointer, under);
        }
    }
    if view != was {
        screen.compare.view = Some(view);
    }
    if response.clicked()
        && let Some(at) = response.interact_pointer_pos()
    {
        let under = if how == How::SideBySide && halves[1].contains(at) { halves[1] } else { room };
        let mm = UiFromBoard::new(&view, under).to_mm(at);
        out.extend(face.and_then(|f| f.part_at(mm.into())).map(|p| Command::SelectPart(p.designator.clone())));
    }
    let painter = ui.painter_at(canvas);
    painter.rect_filled(canvas, 0.0, p.canvas);
    blink(ui, screen);

    let whole = UiFromBoard::new(&view, canvas);
    let pane = |which: usize, clip: Rect, map: UiFromBoard| {
        let (view, when) = [(&*compared.before, "before"), (&*compared.after, "after")][which];
        Pane { clip, map, view, which, title: format!("{when}: {}", view.take.name) }
    };
    let line_x = canvas.left() + screen.compare.wipe * canvas.width();
    let panes: Vec<Pane<'_>> = match how {
        How::SideBySide => [0, 1].into_iter().map(|i| pane(i, halves[i], UiFromBoard::new(&view, halves[i]))).collect(),
        How::Wipe => vec![
            pane(0, Rect::from_min_max(canvas.min, pos2(line_x, canvas.max.y)), whole),
            pane(1, Rect::from_min_max(pos2(line_x, canvas.min.y), canvas.max), whole),
        ],
        How::Blink => vec![pane(usize::from(screen.compare.after_in_sight), canvas, whole)],
        How::Difference => Vec::new(),
    };
    let range = range(screen, compared);
    for pane in &panes {
        draw(&ui.painter_at(pane.clip), pane, screen, range, &mut textures[pane.which], compared);
        lines(&ui.painter_at(pane.clip), session, compared, screen, pane.map, Some(pane.which));
        title(&ui.painter_at(pane.clip), pane.clip, &pane.title, pane.which == 1 && how == How::Wipe);
    }
    if how == How::Difference {
        subtracted(ui, canvas, session, compared, screen, difference, whole);
    } else {
        bar(ui, canvas, screen, compared, range);
    }
    if how == How::SideBySide {
        painter.vline(canvas.center().x, canvas.y_range(), Stroke::new(2.0, p.hairline));
    }
    if how == How::Wipe {
        wipe(ui, canvas, line_x, screen);
    }
    furniture::ruler(&painter, room, 1.0 / f64::from(view.points_per_mm));
    if response.has_focus() {
        painter.rect_stroke(canvas.shrink(1.0), 0.0, Stroke::new(2.0, p.accent), egui::StrokeKind::Inside);
    }
}

/// The same colours for both takes.
fn range(screen: &Screen, compared: &Compared) -> (f32, f32) {
    if let Range::Between(low, high) = screen.range {
        return (low, high);
    }
    let (b, a) = (compared.before.ranges.of(Layer::Rise), compared.after.ranges.of(Layer::Rise));
    (b.0.min(a.0), b.1.max(a.1))
}

fn draw(
    painter: &Painter,
    pane: &Pane<'_>,
    screen: &Screen,
    range: (f32, f32),
    texture: &mut MapTexture,
    compared: &Compared,
) {
    let layer = if screen.compare.at_time { Layer::FrameRise } else { Layer::Rise };
    let view = if pane.which == 0 { &compared.before } else { &compared.after };
    let frame = Compared::frame_at(view, screen.compare.since_onset_s);
    texture.update(painter.ctx(), view, Shown { layer, frame, scale: screen.scale, range, over: None });
    if let Some(handle) = texture.handle() {
        picture::take(painter, handle.id(), pane.view, pane.map);
    }
}

/// Drawing, the place before, and what warms instead.
fn lines(
    painter: &Painter,
    session: &Session,
    compared: &Compared,
    screen: &Screen,
    map: UiFromBoard,
    which: Option<usize>,
) {
    let name = &compared.before.inputs.face;
    let Some(face) = session.board.face(name) else {
        return;
    };
    let mut drawing = Drawing::new(name);
    drawing.selected.extend(screen.hover.part.clone().or_else(|| screen.selection.part.clone()));
    marks::face(painter, &session.board, face, &drawing, map, None, None);
    let ring = |at_mm: [f64; 2], radius_mm: f64, rings: &[f32]| {
        let at = map.to_ui(at_mm);
        let radius = (radius_mm as f32 * map.points_per_mm).max(7.0);
        for more in rings {
            painter.circle_stroke(at, radius + more, Stroke::new(4.0, HALO));
            painter.circle_stroke(at, radius + more, Stroke::new(2.0, SUSPECT_OVER_MAP));
        }
        at + vec2(radius + 6.0, -radius)
    };
    if let Some(site) = &compared.check.site {
        let label = ring([site.at_mm.x, site.at_mm.y], 2.0 * site.sigma_mm, &[0.0]);
        overlay_text(painter, label, "hot before");
    }
    // Told from the first place by a second ring.
    if let Some((spot, part)) = compared.check.moved.as_ref().filter(|_| which != Some(0))
        && let Some(spot) = compared.after.located.as_ref().and_then(|l| l.hot_spots.get(*spot))
    {
        let label = ring([spot.centre_mm.x, spot.centre_mm.y], 0.5, &[0.0, 5.0]);
        let words = part.as_ref().map_or("warms now".to_owned(), |part| format!("warms now: {part}"));
        overlay_text(painter, label, &words);
    }
}

fn title(painter: &Painter, clip: Rect, words: &str, right: bool) {
    let (at, align) = if right {
        (clip.right_top() + vec2(-12.0, 10.0), Align2::RIGHT_TOP)
    } else {
        (clip.left_top() + vec2(12.0, 10.0), Align2::LEFT_TOP)
    };
    let galley = painter.layout_no_wrap(words.to_owned(), theme::body(), OVER_MAP);
    let place = align.anchor_size(at, galley.size());
    painter.rect_filled(place.expand2(vec2(6.0, 2.0)), 3.0, HALO);
    painter.galley(place.min, galley, OVER_MAP);
}

fn bar(ui: &Ui, canvas: Rect, screen: &Screen, compared: &Compared, (low, high): (f32, f32)) {
    let unit = words::unit(compared.check.unit);
    let end = |v: f32| words::plain(f64::from(v), unit);
    let what = if screen.compare.at_time { "rise at the time cursor" } else { "rise at the end" };
    furniture::bar(ui, canvas, &screen.scale.table(), what, &end(low), &end(high));
}

fn subtracted(
    ui: &Ui,
    canvas: Rect,
    session: &Session,
    compared: &Compared,
    screen: &Screen,
    difference: &mut DifferenceTexture,
    map: UiFromBoard,
) {
    let painter = ui.painter_at(canvas);
    let Some(map_of) = &compared.check.difference else {
        lines(&painter, session, compared, screen, map, None);
        title(&painter, canvas, "Heat cannot be compared: see the verdict", false);
        return;
    };
    let serials = (compared.before.serial, compared.after.serial);
    let most = difference.show(&painter, serials, map_of, map);
    lines(&painter, session, compared, screen, map, None);
    title(&painter, canvas, "before less after; faint where it is within twice its error", false);
    let unit = words::unit(compared.check.unit);
    let (low, high) = (
        format!("after warmer {}", words::plain(f64::from(most), unit)),
        format!("before {}", words::plain(f64::from(most), unit)),
    );
    furniture::bar(ui, canvas, &ramp::of_differences(), "difference", &low, &high);
}

/// Which of both is in sight while blinking.
fn blink(ui: &Ui, screen: &mut Screen) {
    let compare = &mut screen.compare;
    if compare.how != How::Blink || !compare.blinking {
        return;
    }
    let now = ui.input(|i| i.time);
    if now - compare.blinked_at >= BLINK_S {
        (compare.after_in_sight, compare.blinked_at) = (!compare.after_in_sight, now);
    }
    ui.ctx().request_repaint_after(std::time::Duration::from_secs_f64(BLINK_S));
}

/// The line that is dragged over both.
fn wipe(ui: &Ui, canvas: Rect, line_x: f32, screen: &mut Screen) {
    let p = Palette::of(ui);
    let grip = Rect::from_center_size(pos2(line_x, canvas.center().y), vec2(GRIP, canvas.height()));
    let response = ui.interact(grip.intersect(canvas), ui.scope_id().with("wipe"), Sense::click_and_drag());
    let share = screen.compare.wipe;
    response.widget_info(|| WidgetInfo::slider(true, f64::from(share), "Wipe: share that shows the take before"));
    if response.dragged()
        && let Some(at) = response.interact_pointer_pos()
    {
        screen.compare.wipe = ((at.x - canvas.left()) / canvas.width()).clamp(0.0, 1.0);
    }
    if response.has_focus() {
        // The keys would move the focus elsewhere otherwise.
        let filter = egui::EventFilter { horizontal_arrows: true, ..Default::default() };
        ui.memory_mut(|m| m.set_focus_lock_filter(response.id, filter));
        let step =
            ui.input(|i| f32::from(i8::from(i.key_pressed(Key::ArrowRight)) - i8::from(i.key_pressed(Key::ArrowLeft))));
        screen.compare.wipe = (screen.compare.wipe + WIPE_STEP * step).clamp(0.0, 1.0);
    }
    let painter = ui.painter_at(canvas);
    painter.vline(line_x, canvas.y_range(), Stroke::new(4.0, HALO));
    let colour = if response.has_focus() || response.hovered() { p.accent } else { Color32::WHITE };
    painter.vline(line_x, canvas.y_range(), Stroke::new(2.0, colour));
    painter.circle_filled(pos2(line_x, canvas.center().y), 7.0, HALO);
    painter.circle_filled(pos2(line_x, canvas.center().y), 5.0, colour);
    let _ = response.on_hover_cursor(CursorIcon::ResizeHorizontal);
}
