//! Pressure nodes on half a pad, graded to where the pressure is singular or ends.

/// How finely a half pad is divided.
#[derive(Clone, Copy, Debug)]
pub struct Fineness {
    /// Elements over a stretch of contact, apart from grading.
    pub elements: f64,
    /// Ratio of neighbouring elements.
    pub growth: f64,
}

/// A stretch of contact on the half pad, rad from its axis.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Arc {
    /// Nearer end; 0 if the arc spans the axis.
    pub start: f64,
    /// Farther end; the pad's edge if that is loaded.
    pub end: f64,
}

impl Arc {
    /// Length on the half pad, rad.
    pub fn length(&self) -> f64 {
        self.end - self.start
    }
}

/// Nodes for a first scan, when no contact is known yet: graded to the axis and to the edge.
pub fn first_scan(edge: f64, fineness: Fineness) -> Vec<f64> {
    let mut nodes = vec![0.0];
    stretch(
        &mut nodes,
        edge,
        Some(2e-4 * edge),
        Some(1e-5 * edge),
        edge / fineness.elements,
        fineness.growth,
    );
    nodes
}

/// Nodes graded to the ends of the arcs found.
pub fn graded(edge: f64, arcs: &[Arc], fineness: Fineness) -> Vec<f64> {
    // sizes asked at the ends: p like the root of the distance at a free end, like its inverse at the pad's edge
    let free = |arc: &Arc| 1e-3 * arc.length();
    let carried = |arc: &Arc| 1e-6 * arc.length();
    let mut nodes = vec![0.0];
    let mut left = None;
    for arc in arcs {
        if arc.start > 0.0 {
            let open = arc.start - nodes[nodes.len() - 1];
            stretch(
                &mut nodes,
                arc.start,
                left,
                Some(free(arc)),
                open / 15.0,
                1.5,
            );
        }
        let at_edge = arc.end >= edge;
        let start = (arc.start > 0.0).then(|| free(arc));
        let end = if at_edge { carried(arc) } else { free(arc) };
        let largest = arc.length() / fineness.elements;
        stretch(
            &mut nodes,
            arc.end,
            start,
            Some(end),
            largest,
            fineness.growth,
        );
        left = Some(free(arc));
    }
    let last = nodes[nodes.len() - 1];
    if last < edge {
        stretch(&mut nodes, edge, left, None, (edge - last) / 15.0, 1.5);
    }
    nodes
}

/// Appends nodes up to `end`: sizes grow by `growth` from the ones asked at the ends, up to `largest`.
fn stretch(
    nodes: &mut Vec<f64>,
    end: f64,
    at_start: Option<f64>,
    at_end: Option<f64>,
    largest: f64,
    growth: f64,
) {
    let start = nodes[nodes.len() - 1];
    let mut from_start = vec![0.0];
    let mut from_end = vec![0.0];
    let total = end - start;
    let (mut a, mut b) = (at_start.unwrap_or(largest), at_end.unwrap_or(largest));
    // lay the smaller of the two next elements until they meet
    loop {
        let (x, y) = (
            from_start[from_start.len() - 1],
            from_end[from_end.len() - 1],
        );
        let left = total - x - y;
        let step = a.min(b).min(largest);
        if left <= 1.5 * step {
            break;
        }
        if a <= b {
            from_start.push(x + step);
            a *= growth;
        } else {
            from_end.push(y + step);
            b *= growth;
        }
    }
    nodes.extend(from_start[1..].iter().map(|x| start + x));
    nodes.extend(from_end.iter().rev().map(|y| end - y));
}
