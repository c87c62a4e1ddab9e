//! Cheapest ways from one pixel to all others, by Dijkstra's method with buckets for whole-number costs (Dial 1969).

#![allow(
    clippy::cast_possible_truncation,
    reason = "places are below 2^32 by the limit on pixels, a step is one of eight"
)]

/// Cost of a step straight and across corners, times the mean price of both pixels: 5 and 7 are within 1 % of 1 and √2.
pub const STRAIGHT: u32 = 5;
/// As [`STRAIGHT`], across a corner.
pub const DIAGONAL: u32 = 7;

const NONE: u8 = 8;
/// The eight neighbours: across, down, weight of the step.
const STEPS: [(isize, isize, u32); 8] = [
    (1, 0, STRAIGHT),
    (1, 1, DIAGONAL),
    (0, 1, STRAIGHT),
    (-1, 1, DIAGONAL),
    (-1, 0, STRAIGHT),
    (-1, -1, DIAGONAL),
    (0, -1, STRAIGHT),
    (1, -1, DIAGONAL),
];

/// Cheapest ways from one pixel.
#[derive(Debug, Clone)]
pub struct Tree {
    width: usize,
    height: usize,
    distance: Vec<u32>,
    /// The step that leads to a pixel, by its number in `STEPS`.
    from: Vec<u8>,
}

impl Tree {
    /// Cheapest ways from `root` over prices row by row; a step costs its weight times the sum of both pixels' prices. Ends early
    /// when `target` is reached. Pixels of price 0 are closed.
    pub fn of(width: usize, height: usize, price: &[u8], root: [usize; 2], target: Option<[usize; 2]>) -> Self {
        Self::within(width, height, price, root, target, u32::MAX)
    }

    /// The same, for ways that cost no more than `most`.
    pub fn within(
        width: usize,
        height: usize,
        price: &[u8],
        root: [usize; 2],
        target: Option<[usize; 2]>,
        most: u32,
    ) -> Self {
        let size = width * height;
        let mut tree = Self { width, height, distance: vec![u32::MAX; size], from: vec![NONE; size] };
        if root[0] >= width || root[1] >= height || price.len() < size {
            return tree;
        }
        let dearest = u32::from(price.iter().copied().max().unwrap_or(0));
        let ring = (DIAGONAL * 2 * dearest + 1).next_power_of_two() as usize;
        let mut buckets: Vec<Vec<u32>> = vec![Vec::new(); ring];
        let target = target.map(|[x, y]| y * width + x);
        let start = root[1] * width + root[0];
        tree.distance[start] = 0;
        buckets[0].push(start as u32);
        let mut waiting = 1_usize;
        let mut now = 0_u32;
        while waiting > 0 {
            let mut bucket = std::mem::take(&mut buckets[now as usize & (ring - 1)]);
            waiting -= bucket.len();
            for &place in &bucket {
                let place = place as usize;
                if tree.distance[place] != now {
                    continue;
                }
                if target == Some(place) {
                    return tree;
                }
                let (x, y) = (place % width, place / width);
                let here = u32::from(price[place]);
                for (number, &(dx, dy, weight)) in STEPS.iter().enumerate() {
                    let (nx, ny) = (x.wrapping_add_signed(dx), y.wrapping_add_signed(dy));
                    if nx >= width || ny >= height {
                        continue;
                    }
                    let next = ny * width + nx;
                    let there = u32::from(price[next]);
                    if there == 0 {
                        continue;
                    }
                    let cost = now + weight * (here + there);
                    if cost < tree.distance[next] && cost <= most {
                        tree.distance[next] = cost;
                        tree.from[next] = number as u8;
                        buckets[cost as usize & (ring - 1)].push(next as u32);
                        waiting += 1;
                    }
                }
            }
            bucket.clear();
            buckets[now as usize & (ring - 1)] = bucket;
            now += 1;
        }
        tree
    }

    /// What the way to a pixel costs; nothing when none leads there.
    pub fn cost(&self, to: [usize; 2]) -> Option<u32> {
        let distance =
            (to[0] < self.width && to[1] < self.height).then(|| self.distance[to[1] * self.width + to[0]])?;
        (distance != u32::MAX).then_some(distance)
    }

    /// The pixels from the root to a pixel, both counted in; empty when no way leads there.
    pub fn way(&self, to: [usize; 2]) -> Vec<[usize; 2]> {
        let mut way = Vec::new();
        if self.cost(to).is_none() {
            return way;
        }
        let [mut x, mut y] = to;
        way.push(to);
        while let Some(&(dx, dy, _)) = STEPS.get(usize::from(self.from[y * self.width + x])) {
            (x, y) = (x.wrapping_add_signed(-dx), y.wrapping_add_signed(-dy));
            way.push([x, y]);
        }
        way.reverse();
        way
    }
}
