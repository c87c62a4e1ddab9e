//! Blocks of a graph: two edges share a block when some loop goes through both (biconnected components).
//!
//! Current can only flow round a loop with a source in it. So an edge in whose block there is no live source carries nothing,
//! whatever the values of the elements are; Hopcroft and Tarjan 1973, without recursion.

/// The block of each edge, numbered from 0. An edge from a node to itself is a block of its own.
///
/// `edges` may name nodes below `nodes` only; others get a block of their own.
pub fn blocks(nodes: usize, edges: &[(u32, u32)]) -> Vec<u32> {
    const NONE: u32 = u32::MAX;
    let mut block = vec![NONE; edges.len()];
    let mut next_block = 0u32;
    let mut alone = |block: &mut u32| {
        *block = next_block;
        next_block += 1;
    };
    // Adjacency in one flat list: edges of node n are at starts[n]..starts[n + 1].
    let mut starts = vec![0usize; nodes + 1];
    let inside = |&(a, b): &(u32, u32)| a != b && (a as usize) < nodes && (b as usize) < nodes;
    for (edge, ends) in edges.iter().enumerate() {
        if inside(ends) {
            starts[ends.0 as usize + 1] += 1;
            starts[ends.1 as usize + 1] += 1;
        } else {
            alone(&mut block[edge]);
        }
    }
    for at in 0..nodes {
        starts[at + 1] += starts[at];
    }
    let mut fill = starts.clone();
    let mut incident = vec![0usize; starts[nodes]];
    for (edge, ends) in edges.iter().enumerate().filter(|(_, ends)| inside(ends)) {
        for end in [ends.0, ends.1] {
            incident[fill[end as usize]] = edge;
            fill[end as usize] += 1;
        }
    }
    let mut seen = vec![0u32; nodes]; // 0: not yet; else order of discovery
    let mut low = vec![0u32; nodes];
    let mut clock = 0u32;
    let mut open_edges: Vec<usize> = Vec::new();
    for root in 0..nodes {
        if seen[root] != 0 {
            continue;
        }
        clock += 1;
        seen[root] = clock;
        low[root] = clock;
        // Node, the edge it was entered by, the next of its edges to look at.
        let mut calls = vec![(root, usize::MAX, starts[root])];
        while let Some((node, entered, at)) = calls.pop() {
            if at < starts[node + 1] {
                calls.push((node, entered, at + 1));
                let edge = incident[at];
                if edge == entered || block[edge] != NONE {
                    continue;
                }
                let (a, b) = edges[edge];
                let other = if a as usize == node { b as usize } else { a as usize };
                if seen[other] == 0 {
                    clock += 1;
                    seen[other] = clock;
                    low[other] = clock;
                    open_edges.push(edge);
                    calls.push((other, edge, starts[other]));
                } else if seen[other] < seen[node] {
                    open_edges.push(edge);
                    low[node] = low[node].min(seen[other]);
                }
            } else if let Some(&(parent, _, _)) = calls.last() {
                low[parent] = low[parent].min(low[node]);
                if low[node] >= seen[parent] {
                    while let Some(edge) = open_edges.pop() {
                        block[edge] = next_block;
                        if edge == entered {
                            break;
                        }
                    }
                    next_block += 1;
                }
            }
        }
    }
    block
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_loop_is_one_block_and_a_lead_to_nowhere_another() {
        // 0-1-2-0 is a loop; 2-3 a bridge; 3-4 twice a loop; 5-5 alone.
        let edges = [(0, 1), (1, 2), (2, 0), (2, 3), (3, 4), (4, 3), (5, 5)];
        let block = blocks(6, &edges);
        assert_eq!(block[0], block[1]);
        assert_eq!(block[1], block[2]);
        assert_eq!(block[4], block[5]);
        let mut kinds = vec![block[0], block[3], block[4], block[6]];
        kinds.sort_unstable();
        kinds.dedup();
        assert_eq!(kinds.len(), 4);
    }

    #[test]
    fn two_loops_that_share_a_node_only_are_two_blocks() {
        let edges = [(0, 1), (1, 0), (1, 2), (2, 1)];
        let block = blocks(3, &edges);
        assert_eq!(block[0], block[1]);
        assert_eq!(block[2], block[3]);
        assert_ne!(block[0], block[2]);
    }

    /// Menger: two edges share a block exactly when no single node, taken out, parts them. Tried out on all small graphs of a
    /// fixed sequence, by taking out each node in turn.
    #[test]
    fn blocks_agree_with_taking_nodes_out_one_by_one() {
        let mut seed = 1u64;
        let mut next = |bound: u32| {
            seed = seed.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
            u32::try_from(seed >> 33).unwrap_or(0) % bound
        };
        for _ in 0..400 {
            let nodes = 2 + next(5);
            let edges: Vec<(u32, u32)> =
                (0..=next(8)).map(|_| (next(nodes), next(nodes))).filter(|(a, b)| a != b).collect();
            let nodes = nodes as usize;
            let block = blocks(nodes, &edges);
            for (i, e) in edges.iter().enumerate() {
                for (j, f) in edges.iter().enumerate().skip(i + 1) {
                    assert_eq!(block[i] == block[j], share_a_loop(nodes, &edges, i, j), "{edges:?} {e:?} {f:?}");
                }
            }
        }
    }

    /// Whether a simple way back to the start of the first edge goes over the second.
    fn walk(at: u32, goal: u32, edges: &[(u32, u32)], used: &mut Vec<usize>, been: &mut Vec<bool>, two: usize) -> bool {
        if at == goal {
            return used.contains(&two);
        }
        for (edge, &(a, b)) in edges.iter().enumerate() {
            let to = if a == at {
                b
            } else if b == at {
                a
            } else {
                continue;
            };
            if used.contains(&edge) || (been[to as usize] && to != goal) {
                continue;
            }
            used.push(edge);
            been[to as usize] = true;
            if walk(to, goal, edges, used, been, two) {
                return true;
            }
            been[to as usize] = false;
            used.pop();
        }
        false
    }

    /// Whether a simple loop goes through both edges, by trying every simple way round.
    fn share_a_loop(nodes: usize, edges: &[(u32, u32)], one: usize, two: usize) -> bool {
        let (start, goal) = edges[one];
        let mut been = vec![false; nodes];
        been[start as usize] = true;
        let mut used = vec![one];
        walk(start, goal, edges, &mut used, &mut been, two)
    }
}
