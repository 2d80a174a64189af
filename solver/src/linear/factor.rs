//! What contact and cutting ask of a factored stiffness, whichever way it was factored.

/// A force `[fx, fy]` (N) on a node.
pub type NodeForce = (usize, [f64; 2]);

/// A factored stiffness `K = L L'` of a body whose rigid motions are pinned at single unknowns.
///
/// Loads that do not balance are taken by the pins; contact balances them with the rigid motions as unknowns of its
/// own, so in the answer the pins carry nothing.
pub trait Factor {
    /// `L^-1 f` of a load on few nodes. `work` is zero on entry and on return.
    fn reduce(&self, load: &[NodeForce], work: &mut Vec<f64>) -> Reduced;

    /// Prepares solves of which only the displacement of some nodes is wanted.
    fn wanted(&self, nodes: &[usize]) -> Wanted;

    /// Displacement (mm) of the wanted nodes under a load on few nodes. `work` is zero on entry and on return.
    fn respond(&self, load: &[NodeForce], wanted: &Wanted, work: &mut Vec<f64>) -> Vec<[f64; 2]>;

    /// Displacement (mm) of every node under a load (N) on every node.
    fn solve(&self, load: &[[f64; 2]]) -> Vec<[f64; 2]>;

    /// `K u` with the stiffness of the body itself: the nodal forces (N) that hold the displacement `u`.
    fn forces(&self, displacement: &[[f64; 2]]) -> Vec<[f64; 2]>;
}

/// `L^-1 f` of a load on few unknowns: values on the blocks between those unknowns and the root.
///
/// The compliance between two loads is the dot product of their reduced forms, `f' K^-1 g = (L^-1 f)'(L^-1 g)`.
#[derive(Clone, Debug)]
pub struct Reduced {
    /// Blocks of the factor, increasing, and where their values start.
    pub(super) blocks: Vec<(u32, u32)>,
    pub(super) values: Vec<f64>,
}

impl Reduced {
    /// Compliance between two loads, mm times N for loads in N.
    pub fn dot(&self, other: &Reduced) -> f64 {
        // paths meet once and then run together to the root, so walk both from the end
        let (mut a, mut b) = (self.blocks.len(), other.blocks.len());
        let (mut end_a, mut end_b) = (self.values.len(), other.values.len());
        let mut sum = 0.0;
        while a > 0 && b > 0 {
            let ((block_a, at_a), (block_b, at_b)) = (self.blocks[a - 1], other.blocks[b - 1]);
            if block_a == block_b {
                let (x, y) = (
                    &self.values[at_a as usize..end_a],
                    &other.values[at_b as usize..end_b],
                );
                sum += x.iter().zip(y).map(|(p, q)| p * q).sum::<f64>();
            }
            if block_a >= block_b {
                a -= 1;
                end_a = at_a as usize;
            }
            if block_b >= block_a {
                b -= 1;
                end_b = at_b as usize;
            }
        }
        sum
    }

    /// Bytes held.
    pub fn bytes(&self) -> usize {
        8 * (self.values.len() + self.blocks.len())
    }
}

/// The part of a factor that a set of wanted nodes reaches.
#[derive(Clone, Debug)]
pub struct Wanted {
    /// Blocks of the factor, increasing; with each, all that follow it on the way to the root.
    pub(super) blocks: Vec<u32>,
    /// The nodes themselves, in the caller's order.
    pub(super) nodes: Vec<usize>,
}
