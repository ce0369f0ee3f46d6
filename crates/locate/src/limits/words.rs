//! A plan in plain words, as a table, and as the JSON document.

use std::fmt::Write;

use serde::{Deserialize, Serialize};

use super::{Plan, Said};

/// The document that `--json` prints.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub struct PlanReport {
    /// `joulemark.plan/1`.
    pub schema: String,
    /// The plan.
    #[serde(flatten)]
    pub plan: Plan,
}

impl From<Plan> for PlanReport {
    fn from(plan: Plan) -> Self {
        Self { schema: "joulemark.plan/1".to_owned(), plan }
    }
}

impl Plan {
    /// The ladder as a table, then why each ceiling is what it is, then what to bear in mind.
    pub fn table(&self) -> String {
        let mut out = format!("Plan for {}", self.rail);
        if let Some(kind) = self.kind {
            let _ = write!(out, " ({})", kind.as_rail());
        }
        out.push('\n');
        if self.swap_leads {
            out.push_str("Negative rail: red to ground, black to the rail.\n");
        }
        list(&mut out, "Do not inject", &self.refusals);
        list(&mut out, "Before current flows", &self.pending);
        if !self.steps.is_empty() {
            out.push_str("\nstep  volts  amps  time s  joules  stop      amps expected  watts expected  rise K\n");
        }
        for s in &self.steps {
            let stop = s.stop_c.as_ref().map_or("none".to_owned(), |c| format!("{} °C", c.value));
            let range = |r: (f64, f64), digits: usize| format!("{:.digits$} to {:.digits$}", r.0, r.1);
            let (amps, watts, rise) =
                s.expected.map_or(("not known".into(), "not known".into(), "not known".into()), |e| {
                    (range(e.amps, 3), range(e.watts, 3), range(e.rise_k, 2))
                });
            // Ceilings are cut off, never rounded up.
            let cut = |v: f64, scale: f64| (v * scale + 1e-9).floor() / scale;
            let (v, a) = (cut(s.volts.value, 100.0), cut(s.amps.value, 100.0));
            let (t, j) = (cut(s.dwell_s.value, 10.0), cut(s.joules.value, 10.0));
            let _ = writeln!(
                out,
                "{:<4}  {v:<5.2}  {a:<4.2}  {t:<6.1}  {j:<6.1}  {stop:<8}  {amps:<13}  {watts:<14}  {rise}",
                s.number
            );
        }
        if !self.steps.is_empty() {
            out.push_str("\nWhy\n");
        }
        for s in &self.steps {
            for (what, c) in [("volts", &s.volts), ("amps", &s.amps), ("time", &s.dwell_s)] {
                let _ = writeln!(out, "  step {} {what}: {} [{}; {}]", s.number, c.because, c.rule, c.source);
            }
            for note in &s.notes {
                let _ = writeln!(out, "  step {}: {note}", s.number);
            }
        }
        list(&mut out, "Bear in mind", &self.warnings);
        out
    }
}

fn list(out: &mut String, title: &str, said: &[Said]) {
    if said.is_empty() {
        return;
    }
    let _ = writeln!(out, "\n{title}");
    for s in said {
        let _ = writeln!(out, "  {} [{}]", s.words, s.source);
    }
}
