//! Random streams, opened by what they are for and never by who asks: (seed, print, block, purpose).

use rand::SeedableRng;
use rand::rngs::Xoshiro256PlusPlus;

/// The generator of all results, named in the output.
pub(crate) type Generator = Xoshiro256PlusPlus;

/// Name and origin of the generator, for the record.
pub(crate) const GENERATOR_NAME: &str = "xoshiro256++ (rand 0.10.4), one stream per seed, print, block and purpose";

/// What a stream is for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Purpose {
    /// Droplets of a block of the path.
    Droplets = 1,
    /// Noise of the mist output.
    Output = 2,
    /// Wander of the stage.
    Jitter = 3,
    /// What differs between prints; the block is the varied input.
    Spread = 4,
    /// A block's droplets that bring no particle to the nozzle.
    Aside = 5,
    /// Points of a sweep; the block is the axis.
    Design = 6,
    /// Droplets of a layer that bring no particle to the nozzle, counted by size; the block is the layer.
    Kept = 7,
}

/// Mixes the bits of a number: splitmix64 (Steele, Lea & Flood 2014, Fast splittable pseudorandom number generators, OOPSLA).
pub(super) fn mixed(state: u64) -> u64 {
    let mut z = state.wrapping_add(0x9e37_79b9_7f4a_7c15);
    z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
    z ^ (z >> 31)
}

/// Seed of a point of a sweep whose points have their own chance.
pub(crate) fn point_seed(seed: u64, point: u64) -> u64 {
    // Not the mixing of prints and blocks, so that no point's streams are another print's.
    mixed(mixed(seed ^ 0x7377_6565_7020_7074) ^ point)
}

/// Opens the stream of a block.
pub fn stream(seed: u64, print: u32, block: u64, purpose: Purpose) -> Generator {
    let key = mixed(mixed(mixed(seed ^ 0x6d6f_7465_6661_6c6c) ^ u64::from(print)) ^ block) ^ ((purpose as u64) << 56);
    let mut bytes = [0; 32];
    let mut word = key;
    for part in bytes.chunks_exact_mut(8) {
        word = mixed(word);
        part.copy_from_slice(&word.to_le_bytes());
    }
    Generator::from_seed(bytes)
}

#[cfg(test)]
mod tests {
    use super::*;
    use rand::Rng;

    #[test]
    fn every_part_of_the_name_matters_and_the_stream_is_fixed() {
        let first = |seed, print, block, purpose| stream(seed, print, block, purpose).next_u64();
        let base = first(1, 2, 3, Purpose::Droplets);
        assert_ne!(base, first(2, 2, 3, Purpose::Droplets));
        assert_ne!(base, first(1, 3, 3, Purpose::Droplets));
        assert_ne!(base, first(1, 2, 4, Purpose::Droplets));
        assert_ne!(base, first(1, 2, 3, Purpose::Jitter));
        assert_ne!(first(1, 2, 3, Purpose::Droplets), first(1, 3, 2, Purpose::Droplets));
        assert_eq!(base, first(1, 2, 3, Purpose::Droplets));
    }
}
