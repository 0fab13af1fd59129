//! How a tree of the model is written: it asks four questions, and the answers together choose its leaf.

use super::evidence::EVIDENCE;

/// Questions of a tree.
const DEPTH: usize = 4;
/// Bytes of a tree: numbers of evidence, borders, leaves.
pub(super) const TREE: usize = DEPTH + 4 * DEPTH + 2 * (1 << DEPTH);
/// One output of the model.
#[derive(Clone, Copy, Debug)]
pub(super) struct Head {
    /// Number of its trees.
    pub(super) trees: usize,
    /// Step of a leaf, dB (for the odds, of their logarithm; so is the offset).
    pub(super) step: f64,
    /// Its value with no tree, dB.
    pub(super) offset: f64,
}

/// The leaf of one tree, in steps.
pub(super) fn leaf(tree: &[u8], evidence: &[f32; EVIDENCE]) -> i16 {
    let (fields, rest) = tree.split_at(DEPTH);
    let (borders, leaves) = rest.split_at(4 * DEPTH);
    let mut place = 0;
    for (bit, (field, border)) in fields.iter().zip(borders.chunks_exact(4)).enumerate() {
        let border = f32::from_le_bytes([border[0], border[1], border[2], border[3]]);
        place |= usize::from(evidence[usize::from(*field)] > border) << bit;
    }
    i16::from_le_bytes([leaves[2 * place], leaves[2 * place + 1]])
}
