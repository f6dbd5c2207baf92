//! The order of elimination: the node with the fewest neighbours first.

/// An order of elimination that keeps the factor sparse; ties go to the lower number, so that equal networks get equal orders.
///
/// Also gives, for each place in the order, which nodes were its neighbours when it was eliminated: the factor's pattern.
pub(super) fn minimum_degree(mut adjacent: Vec<Vec<usize>>) -> (Vec<usize>, Vec<Vec<usize>>) {
    let count = adjacent.len();
    let mut left: Vec<usize> = (0..count).collect();
    let mut order = Vec::with_capacity(count);
    let mut patterns = Vec::with_capacity(count);
    while let Some(at) = (0..left.len()).min_by_key(|&at| (adjacent[left[at]].len(), left[at])) {
        let node = left.swap_remove(at);
        let neighbours = std::mem::take(&mut adjacent[node]);
        for &neighbour in &neighbours {
            join(&mut adjacent[neighbour], &neighbours, node, neighbour);
        }
        order.push(node);
        patterns.push(neighbours);
    }
    (order, patterns)
}

/// Neighbours of one node after another was eliminated: those of both, sorted, without the two themselves.
fn join(own: &mut Vec<usize>, others: &[usize], gone: usize, this: usize) {
    own.extend(others.iter().copied().filter(|&other| other != this));
    own.retain(|&node| node != gone);
    own.sort_unstable();
    own.dedup();
}
