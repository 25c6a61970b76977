//! What cannot be told is refused or told as such; it never counts as held.

use periband::scenario::{STARTER, Scenario};
use periband::study::Case;
use std::fmt::Write as _;

/// Thirty-three limits do not fit into the bits by which a pass is judged: the last would have stood for the first.
#[test]
fn more_limits_than_a_pass_is_judged_by_are_refused() {
    let spots: String = (0..8)
        .map(|n| format!("    - {{name: spot {n}, share: 40 %, highest_flux: 60 W/cm2}}\n"))
        .collect();
    let case = |levels: u32| {
        let mut stays = String::new();
        for level in 0..levels {
            let _ = writeln!(stays, "    - {{level: 1.{level:02} g, at_most: 300 s}}");
        }
        let text = STARTER
            .replace("    - {level: 1 g, at_most: 60 s}\n", &stays)
            .replace("  # spots:", &format!("  spots:\n{spots}  # spots:"))
            .replace("  # lowest_altitude: 35 km", "  lowest_altitude: 35 km")
            .replace("  # captured_above:", "  captured_above:");
        Case::from_scenario(Scenario::from_text("x.yaml", &text).expect("reads"))
    };
    let fits = case(15).expect("as many as fit");
    assert_eq!(fits.problem.limits().entries().len(), 32);
    let refused = case(16).expect_err("one too many").to_string();
    assert!(refused.contains("33 limits, 32 at the most"), "{refused}");
}
