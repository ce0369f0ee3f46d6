//! One step of the page: its picture as SVG with the marks in groups that are revealed one by one, and its words.

use base64::{Engine, engine::general_purpose::STANDARD};
use maud::{Markup, PreEscaped, html};

use super::{
    super::{Handout, pages},
    sheet::Sheet,
};
use crate::{
    lesson::{
        Shows, What, markdown,
        place::Placing,
        render::{self, Area, Inks, Rendered},
        shapes,
    },
    report::{
        Raster, Shape, clip,
        drawing::Ink,
        html::{at, prose, shape},
        typeface::Fonts,
    },
};

/// Size of a view, in the drawing's own units.
const SIZE: [f32; 2] = [820.0, 600.0];
const WORDS: f32 = 19.0;
const DOTS: f32 = 1.6;
/// Inks that no map has: where they stand, the page puts its own colours, light or dark.
const WORDS_INK: Ink = [1, 2, 3];
const WEAK_INK: Ink = [3, 2, 1];
const GROUND_INK: Ink = [254, 253, 252];

pub fn markup(
    handout: &Handout,
    index: usize,
    sheet: Option<&Sheet>,
    told: &mut Vec<String>,
) -> anyhow::Result<Markup> {
    let step = &handout.lesson.steps[index];
    let inks = Inks { words: WORDS_INK, weak: WEAK_INK, ground: GROUND_INK };
    let rect = [0.0, 0.0, SIZE[0], SIZE[1]];
    let area = Area { rect, words_size: WORDS, dots: DOTS, inks, fonts: Fonts::shared()? };
    let rendered = handout.material.with(|sources| render::render(&step.view, sources, &area));
    let figure = match &rendered {
        Ok(rendered) if rendered.picture.is_none() && rendered.shapes.is_empty() => None,
        Ok(rendered) => Some(figure(handout, index, rendered, sheet)?),
        Err(missing) => {
            let said = format!("step {}: {missing}", index + 1);
            told.push(said);
            Some(html! { p.missing { (missing.to_string()) } })
        }
    };
    let legend = legend(handout, index);
    let text = markdown::parse(&step.text);
    let title = step.title.trim();
    let number = index + 1;
    let class = if rendered.is_ok() && figure.is_some() { "step pictured" } else { "step" };
    Ok(html! {
        section class=(class) id={ "step-" (number) } aria-labelledby={ "title-" (number) } data-reveals=(step.reveals()) {
            h2 id={ "title-" (number) } { @if title.is_empty() { "Step " (number) } @else { (title) } }
            @if let Some(figure) = figure { (figure) }
            div.said {
                (prose(&text))
                @if !legend.is_empty() {
                    ol.legend { @for (number, text, reveal) in &legend {
                        li data-reveal=[(*reveal > 0).then_some(reveal)] { b { (number) } span { (text) } }
                    } }
                }
            }
        }
    })
}

fn figure(handout: &Handout, index: usize, rendered: &Rendered, sheet: Option<&Sheet>) -> anyhow::Result<Markup> {
    let [width, height] = rendered.ends;
    let mut base = String::new();
    let mut canvas = None;
    if let Some(pixels) = &rendered.picture {
        let picture = Shape::Picture { rect: pixels.rect, raster: Raster::of(&pixels.image)? };
        base += &format!("<g class=\"still\">{}</g>", shape(&picture).into_string());
        let share = |i: usize, whole: f32| 100.0 * pixels.rect[i] / whole;
        canvas = sheet.map(|sheet| {
            let place = format!(
                "left:{:.3}%;top:{:.3}%;width:{:.3}%;height:{:.3}%",
                share(0, width),
                share(1, height),
                share(2, width),
                share(3, height)
            );
            html! { canvas width=(sheet.frame_px[0]) height=(sheet.frame_px[1]) style=(place) aria-hidden="true" {} }
        });
    }
    for (i, one) in rendered.shapes.iter().enumerate() {
        let written = themed(&shape(one).into_string());
        let time = sheet.is_some() && rendered.time_words == Some(i);
        base += &if time { written.replacen("class=\"i\"", "class=\"i time\"", 1) } else { written };
    }
    let mut marks = String::new();
    let earlier = handout.lesson.marks_in_sight(index, u32::MAX);
    let own = handout.lesson.steps[index].marks.len();
    for (i, mark) in earlier.iter().enumerate() {
        let drawn = shapes::shapes(mark, &rendered.placing).into_iter();
        let drawn = drawn.flat_map(|s| clip::shape(s, rendered.placing.rect()));
        let drawn: String = drawn.map(|s| shape(&s).into_string()).collect();
        // Marks of earlier steps are in sight from the beginning.
        let reveal = if i + own >= earlier.len() { mark.reveal } else { 0 };
        marks += &if reveal > 0 { format!("<g data-reveal=\"{reveal}\">{drawn}</g>") } else { drawn };
    }
    let view_box = format!("0 0 {} {}", at(width), at(height));
    let shape = format!("--shape:{:.4}", width / height.max(1.0));
    Ok(html! {
        figure {
            div.view style=(shape) {
                @if let Some(canvas) = canvas { (canvas) }
                svg viewBox=(view_box) role="img" aria-label=(alt(handout, index, rendered)) {
                    (PreEscaped(base)) (PreEscaped(marks))
                }
            }
            @if let Some(sheet) = sheet { (film(sheet, own_frame(&handout.lesson.steps[index].view.shows))) }
        }
    })
}

/// The frame that a step itself shows.
fn own_frame(shows: &Shows) -> usize {
    if let Shows::Map { frame, .. } = shows { *frame } else { 0 }
}

/// Play, pause and scrub; shown only where scripts run. The slider begins at the frame that the step itself shows.
fn film(sheet: &Sheet, own: usize) -> Markup {
    let facts = serde_json::json!({
        "width": sheet.frame_px[0],
        "height": sheet.frame_px[1],
        "columns": sheet.columns,
        "delays": sheet.film.delays_ms,
        "says": sheet.says,
    });
    let last = sheet.film.frames.len() - 1;
    let frames = sheet.film.frames.iter().enumerate();
    let at = frames.min_by_key(|(_, frame)| frame.abs_diff(own)).map_or(0, |(i, _)| i);
    let said = sheet.says.get(at).map_or("", String::as_str);
    html! {
        div.film data-film=(facts.to_string()) {
            button type="button" title="P" { "Play" }
            input type="range" min="0" max=(last) value=(at) aria-label="Moment of the recording" aria-valuetext=(said);
            output { (said) }
            img hidden alt="" src={ "data:image/png;base64," (STANDARD.encode(&sheet.png)) };
            @if let Some(thinned) = sheet.film.thinned() { span.note { (thinned) } }
        }
    }
}

/// The page's own colours in place of the inks that stand for them.
fn themed(svg: &str) -> String {
    let mut out = svg.to_owned();
    for (ink, fill, stroke) in [(WORDS_INK, "i", "si"), (WEAK_INK, "w", "sw"), (GROUND_INK, "g", "sg")] {
        let [r, g, b] = ink;
        out = out.replace(&format!("fill=\"#{r:02x}{g:02x}{b:02x}\""), &format!("class=\"{fill}\""));
        out = out.replace(&format!("stroke=\"#{r:02x}{g:02x}{b:02x}\""), &format!("class=\"{stroke}\""));
    }
    out
}

/// View and callouts in words. What is not revealed yet is in the legend only.
fn alt(handout: &Handout, index: usize, rendered: &Rendered) -> String {
    rendered.alt.clone() + &render::callouts(&handout.lesson, index, 0)
}

/// Callouts with what they stand for, and when they are revealed.
fn legend(handout: &Handout, index: usize) -> Vec<(u32, String, u32)> {
    let marks = handout.lesson.marks_in_sight(index, u32::MAX);
    let own = handout.lesson.steps[index].marks.len();
    let reveal_of = |number: u32| {
        let found =
            marks.iter().enumerate().find(|(_, m)| matches!(m.what, What::Callout { number: n, .. } if n == number));
        found.map_or(0, |(i, m)| if i + own >= marks.len() { m.reveal } else { 0 })
    };
    pages::legend(handout, index).into_iter().map(|(n, text)| (n, text, reveal_of(n))).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::report::drawing::Anchor;

    #[test]
    fn inks_of_the_page_become_its_colours_and_others_stay() {
        let words = |ink| Shape::Words {
            text: "<b>".into(),
            at: [1.0, 2.0],
            size: 9.0,
            bold: false,
            anchor: Anchor::Start,
            ink,
        };
        let written = themed(&shape(&words(WORDS_INK)).into_string());
        assert!(written.contains("class=\"i\"") && written.contains("&lt;b&gt;"), "{written}");
        let kept = themed(&shape(&words([0; 3])).into_string());
        assert!(kept.contains("fill=\"#000000\""), "{kept}");
    }
}
