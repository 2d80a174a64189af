//! What the force of a tool did in a cut, in a line of the summary.

use ringwright_solver::report::document::ToolDipDocument;
use ringwright_solver::report::units::{Units, percent};

/// How far the wall gives way, and what of the roundness left is the tool's.
pub(super) fn tool(tool: &ToolDipDocument, units: Units) -> String {
    let ends = tool
        .dip_finished
        .iter()
        .fold([f64::INFINITY, f64::NEG_INFINITY], |[least, most], &d| {
            [least.min(d), most.max(d)]
        });
    let [least, most] = ends.map(|d| units.small_within(d, tool.error));
    let lobes = tool.main_lobes().map_or(String::new(), |h| {
        let amplitude = units.small_within(h.amplitude, tool.error);
        format!(" {} lobes of \u{b1}{amplitude}", h.count)
    });
    let share = if tool.roundness_by_tool <= tool.roundness_left {
        let share = tool.roundness_by_tool / tool.roundness_left;
        format!("{} of the roundness left", percent(share))
    } else {
        "of which the clamp's lobes take some back".to_owned()
    };
    format!(
        "radial tool force {}: the wall gives way {least} to {most}; the tool alone leaves{lobes}, {share}",
        units.force(tool.force)
    )
}
