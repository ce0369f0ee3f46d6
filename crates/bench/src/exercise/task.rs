//! The task as students read it. It is the same for every exercise, so that it tells nothing.

use super::score::{FREE_LOOKS, LOOKS, PART, PLACE, PLACE_NOTHING_MM, PLAN, PLAN_LATER, RAIL};

/// The task where the instructor wrote none, as Markdown.
pub fn standard(simulated: bool) -> String {
    let origin =
        if simulated { "\n\nReadings and recording are simulated; nothing was measured or filmed." } else { "" };
    format!(
        "# Find the fault\n\n\
         A board has come to the bench, and somebody suspects a shorted supply rail. One part may be faulty. \
         It may also be that nothing is wrong.{origin}\n\n\
         1. **Readings.** Which rail stands out? Some rails read low and are healthy: mind what a rail is for.\n\
         2. **Injection.** With how many volts, amps and seconds would you begin on that rail?\n\
         3. **Recording.** A take was made while current flowed. Where does the heat start? The hottest place of the last \
         frame need not be it.\n\
         4. **Place.** Put the cross where the fault is. Name the part if you can.\n\
         5. **Hand in.** You see your points at once, and what the program found.\n\n\
         If nothing is wrong, say so: that is an answer too.\n\n\
         ## What counts\n\n{}",
        counts()
    )
}

/// What counts, as a list.
fn counts() -> String {
    format!(
        "- Rail: {RAIL} points. A rail joined to the faulty one at DC counts as well.\n\
         - Plan: {PLAN} points within the first step's limits, {PLAN_LATER} within a later step's, none above. Less than \
         is allowed counts as right.\n\
         - Place: {PLACE} points on the part, {} less for each millimetre from its edge, none from {PLACE_NOTHING_MM} mm on.\n\
         - Part: {PART} points for its name.\n\
         - Looks: {LOOKS} points; after {FREE_LOOKS} looks, one less for each. They count only where the place earned points.\n",
        f64::from(PLACE) / PLACE_NOTHING_MM
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_points_that_are_named_make_a_hundred() {
        assert_eq!(RAIL + PLAN + PLACE + PART + LOOKS, 100);
        let text = standard(true);
        for says in ["Rail: 20 points", "Place: 40 points on the part, 4 less", "after 3 looks", "simulated"] {
            assert!(text.contains(says), "{says}");
        }
        assert!(!standard(false).contains("simulated"));
    }
}
