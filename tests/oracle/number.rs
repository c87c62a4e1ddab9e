//! Complex numbers, a dense solver and a stream of random numbers, for the hidden machine alone.

use std::ops::{Add, Mul, Neg, Sub};

/// A complex number.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Complex {
    pub re: f64,
    pub im: f64,
}

impl Complex {
    pub fn new(re: f64, im: f64) -> Self {
        Self { re, im }
    }

    pub fn real(re: f64) -> Self {
        Self { re, im: 0.0 }
    }

    pub fn size(self) -> f64 {
        self.re.hypot(self.im)
    }

    pub fn inverse(self) -> Self {
        let whole = self.re * self.re + self.im * self.im;
        Self { re: self.re / whole, im: -self.im / whole }
    }

    pub fn times(self, factor: f64) -> Self {
        Self { re: self.re * factor, im: self.im * factor }
    }
}

impl Add for Complex {
    type Output = Self;
    fn add(self, other: Self) -> Self {
        Self { re: self.re + other.re, im: self.im + other.im }
    }
}

impl Sub for Complex {
    type Output = Self;
    fn sub(self, other: Self) -> Self {
        Self { re: self.re - other.re, im: self.im - other.im }
    }
}

impl Mul for Complex {
    type Output = Self;
    fn mul(self, other: Self) -> Self {
        Self { re: self.re * other.re - self.im * other.im, im: self.re * other.im + self.im * other.re }
    }
}

impl Neg for Complex {
    type Output = Self;
    fn neg(self) -> Self {
        Self { re: -self.re, im: -self.im }
    }
}

/// Solves for several right sides by Gauss with the largest pivot of each column. A matrix without an answer is a mistake of the test.
pub fn solve(mut a: Vec<Vec<Complex>>, mut b: Vec<Vec<Complex>>) -> Vec<Vec<Complex>> {
    let n = a.len();
    for column in 0..n {
        let pivot = (column..n).max_by(|&x, &y| a[x][column].size().total_cmp(&a[y][column].size())).unwrap();
        assert!(a[pivot][column].size() > 1e-13, "the hidden machine's equations have no answer");
        a.swap(column, pivot);
        b.swap(column, pivot);
        let inverse = a[column][column].inverse();
        for row in column + 1..n {
            if a[row][column] == Complex::default() {
                continue;
            }
            let factor = a[row][column] * inverse;
            for rows in [&mut a, &mut b] {
                let (above, below) = rows.split_at_mut(row);
                for (here, there) in below[0].iter_mut().zip(&above[column]) {
                    *here = *here - factor * *there;
                }
            }
        }
    }
    for row in (0..n).rev() {
        let inverse = a[row][row].inverse();
        for at in 0..b[row].len() {
            let mut sum = b[row][at];
            for other in row + 1..n {
                sum = sum - a[row][other] * b[other][at];
            }
            b[row][at] = sum * inverse;
        }
    }
    b
}

/// Random numbers of the hidden machine (PCG, O'Neill 2014, the XSH RR 64/32 variant).
#[derive(Debug, Clone)]
pub struct Dice(u64);

impl Dice {
    pub fn new(seed: u64, stream: u64) -> Self {
        let mut dice = Self(seed ^ stream.wrapping_mul(0x9e37_79b9_7f4a_7c15));
        dice.next();
        dice.next();
        dice
    }

    fn next(&mut self) -> u32 {
        let old = self.0;
        self.0 = old.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        let mixed = (((old >> 18) ^ old) >> 27) & 0xffff_ffff;
        u32::try_from(mixed).unwrap().rotate_right(u32::try_from(old >> 59).unwrap())
    }

    /// From 0 to 1.
    pub fn share(&mut self) -> f64 {
        f64::from(self.next()) / f64::from(u32::MAX)
    }

    /// Within a band.
    pub fn within(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.share()
    }

    pub fn below(&mut self, bound: usize) -> usize {
        self.next() as usize % bound.max(1)
    }
}
