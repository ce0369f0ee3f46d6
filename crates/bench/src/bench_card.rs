//! A plan as one printed page for the bench: large figures, boxes to tick, a place to sign. One self-contained file.

use std::fmt::Write;

use joulemark_locate::limits::{Caution, Plan, Said};

use crate::numbers::ceiling;

const STYLE: &str = "
@page { size: auto; margin: 11mm }
* { box-sizing: border-box }
body { font: 10pt/1.3 sans-serif; color: #000; background: #fff; max-width: 188mm; margin: 0 auto }
h1 { font-size: 18pt; margin: 0 } h2 { font-size: 11pt; margin: 3mm 0 1mm }
table { border-collapse: collapse; width: 100% } th, td { border: .3mm solid #000; padding: 1mm 2mm; text-align: left }
td.figure { font-size: 19pt; font-weight: bold; white-space: nowrap }
ul { margin: 0; padding: 0; list-style: none } li { margin: .6mm 0 }
li.tick::before { content: '\\2610\\00a0' }
.stop { border: 1mm solid #000; padding: 2mm; font-weight: bold }
.small { font-size: 8pt } .sign { display: flex; gap: 8mm; margin-top: 5mm } .sign div { flex: 1; border-top: .3mm solid #000 }
";

/// The card.
pub fn html(plan: &Plan, cautions: &[Caution]) -> String {
    let rail = escaped(&plan.rail);
    let kind = plan.kind.map_or("use not known", |k| k.words());
    let mut out = format!(
        "<!DOCTYPE html>\n<html lang=\"en\"><head><meta charset=\"utf-8\"><title>Bench card: {rail}</title>\
         <style>{STYLE}</style></head><body>\n<h1>Bench card: {rail}</h1><p>{kind}. Nothing beyond these figures.</p>\n"
    );
    if plan.swap_leads {
        out.push_str("<p class=\"stop\">Negative rail: red to ground, black to the rail.</p>\n");
    }
    if !plan.refusals.is_empty() {
        out.push_str("<div class=\"stop\">Do not inject.");
        list(&mut out, "", plan.refusals.iter().map(|s| s.words.as_str()));
        out.push_str("</div>\n");
    }
    if !plan.steps.is_empty() {
        ladder(&mut out, plan);
    }
    out.push_str("<h2>Before current flows</h2>");
    let before = cautions.iter().filter(|c| c.before_injection).map(|c| c.words.as_str());
    list(&mut out, "tick", plan.pending.iter().map(|s: &Said| s.words.as_str()).chain(before));
    out.push_str("<h2>While it flows</h2>");
    list(&mut out, "tick", cautions.iter().filter(|c| !c.before_injection).map(|c| c.words.as_str()));
    if !plan.warnings.is_empty() {
        out.push_str("<h2>Bear in mind</h2>");
        list(&mut out, "", plan.warnings.iter().map(|s| s.words.as_str()));
    }
    out.push_str(
        "<div class=\"sign\"><div>Name</div><div>Date and time</div><div>Signature</div></div>\n</body></html>\n",
    );
    out
}

fn ladder(out: &mut String, plan: &Plan) {
    out.push_str(
        "<table><tr><th>Step</th><th>Volts, most</th><th>Amps, most</th><th>Seconds, most</th><th>Stop at</th></tr>\n",
    );
    for s in &plan.steps {
        let stop = s
            .stop_c
            .as_ref()
            .map_or_else(|| format!("{} J", ceiling(s.joules.value)), |c| format!("{} °C", ceiling(c.value)));
        let _ = writeln!(
            out,
            "<tr><td class=\"figure\">{}</td><td class=\"figure\">{} V</td><td class=\"figure\">{} A</td>\
             <td class=\"figure\">{} s</td><td class=\"figure\">{stop}</td></tr>",
            s.number,
            ceiling(s.volts.value),
            ceiling(s.amps.value),
            ceiling(s.dwell_s.value)
        );
    }
    out.push_str("</table>\n<ul class=\"small\">");
    for s in &plan.steps {
        let (volts, amps) = (escaped(&s.volts.because), escaped(&s.amps.because));
        let _ = write!(out, "<li>Step {}: volts: {volts}; amps: {amps}.</li>", s.number);
    }
    if let Some(enough) = plan.enough {
        let _ = write!(out, "<li>Step {enough} is enough; more adds risk, not information.</li>");
    }
    out.push_str("</ul>\n");
}

fn list<'a>(out: &mut String, class: &str, lines: impl Iterator<Item = &'a str>) {
    out.push_str("<ul>");
    for line in lines {
        let _ = write!(out, "<li class=\"{class}\">{}</li>", escaped(line));
    }
    out.push_str("</ul>\n");
}

fn escaped(text: &str) -> String {
    text.replace('&', "&amp;").replace('<', "&lt;").replace('>', "&gt;").replace('"', "&quot;")
}

#[cfg(test)]
mod tests {
    use super::*;
    use joulemark_locate::limits::{Inputs, plan};

    #[test]
    fn names_cannot_become_markup_and_every_caution_has_a_box() {
        let rules = crate::case::books::Books::standard().limits;
        let inputs = Inputs { rail: "<b>V&12".into(), nominal_volts: Some(12.0), ..Inputs::default() };
        let plan = plan(&inputs, &rules);
        let page = html(&plan, &rules.cautions);
        assert!(page.contains("&lt;b&gt;V&amp;12") && !page.contains("<b>"), "{page}");
        let boxes = page.matches("<li class=\"tick\">").count();
        assert_eq!(boxes, rules.cautions.len() + plan.pending.len());
        assert!(!page.contains("http") && !page.contains("src="), "self-contained");
    }
}
