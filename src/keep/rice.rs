//! Bits, and small numbers in few of them.
//!
//! A Golomb–Rice code with parameter k writes v as ⌊v / 2^k⌋ ones, a zero, and the k low bits of v
//! (S. W. Golomb, IEEE Trans. Inf. Theory 12, 399, 1966; R. F. Rice, JPL Publication 79-22). For
//! numbers that fall off geometrically with mean μ, p(v) = (1 - r) r^v, r = μ / (μ + 1), the expected
//! length is k + 1 / (1 - r^(2^k)), which k + 1 undercuts as soon as r^(2^k) exceeds the golden ratio
//! less one: about where 2^k falls below 0.48 μ. The parameter follows the numbers in the manner of
//! JPEG-LS (ITU-T T.87, A.5.1): with A their sum and N their count, k is the smallest with
//! 2·N·2^k ≥ A; both are halved when N reaches [`FORGET_AT`].
//!
//! A number that would need [`LONGEST`] ones or more is written as so many ones, its length in bits
//! (seven bits), and itself; it does not move the parameter. So any 64-bit number can be written, in
//! at most 95 bits.

/// Ones that begin a number written out.
const LONGEST: u32 = 24;
const FORGET_AT: u32 = 32;

/// Writes bits, most significant first.
#[derive(Debug, Default)]
pub(super) struct BitWriter {
    bytes: Vec<u8>,
    /// Bits of the last byte that are free.
    free: u32,
}

impl BitWriter {
    /// The low `count` bits of `value`, at most 64.
    pub fn bits(&mut self, value: u64, count: u32) {
        for place in (0..count).rev() {
            self.bit(value >> place & 1 == 1);
        }
    }

    /// So many ones and a zero, which is left out after `most`.
    pub fn unary(&mut self, ones: u32, most: u32) {
        (0..ones).for_each(|_| self.bit(true));
        if ones < most {
            self.bit(false);
        }
    }

    fn bit(&mut self, bit: bool) {
        if self.free == 0 {
            self.bytes.push(0);
            self.free = 8;
        }
        self.free -= 1;
        if let Some(last) = self.bytes.last_mut() {
            *last |= u8::from(bit) << self.free;
        }
    }

    pub fn len(&self) -> usize {
        self.bytes.len()
    }

    /// The bytes; the last one is filled up with zeros.
    pub fn bytes(&self) -> &[u8] {
        &self.bytes
    }
}

/// Reads what a [`BitWriter`] wrote; `None` past the end.
#[derive(Debug)]
pub(super) struct BitReader<'b> {
    bytes: &'b [u8],
    place: usize,
}

impl<'b> BitReader<'b> {
    pub const fn new(bytes: &'b [u8]) -> Self {
        Self { bytes, place: 0 }
    }

    pub fn bits(&mut self, count: u32) -> Option<u64> {
        (0..count).try_fold(0, |value, _| Some(value << 1 | u64::from(self.bit()?)))
    }

    /// How many ones come before the next zero, or `most` where there are that many.
    pub fn unary(&mut self, most: u32) -> Option<u32> {
        for ones in 0..most {
            if !self.bit()? {
                return Some(ones);
            }
        }
        Some(most)
    }

    fn bit(&mut self) -> Option<bool> {
        let byte = self.bytes.get(self.place / 8)?;
        let bit = byte >> (7 - self.place % 8) & 1 == 1;
        self.place += 1;
        Some(bit)
    }
}

/// What the numbers of one kind were like.
#[derive(Debug, Clone, Copy)]
pub(super) struct Rice {
    sum: u64,
    count: u32,
}

impl Rice {
    /// Expects numbers of about this mean.
    pub const fn expecting(mean: u64) -> Self {
        Self { sum: mean, count: 1 }
    }

    pub fn write(&mut self, out: &mut BitWriter, value: u64) {
        let k = self.parameter();
        match u32::try_from(value >> k) {
            Ok(ones) if ones < LONGEST => {
                out.unary(ones, LONGEST);
                out.bits(value, k);
                self.learn(value);
            }
            _ => {
                let length = u64::BITS - value.leading_zeros();
                out.bits(u64::MAX, LONGEST);
                out.bits(u64::from(length), 7);
                out.bits(value, length);
            }
        }
    }

    pub fn read(&mut self, from: &mut BitReader<'_>) -> Option<u64> {
        let k = self.parameter();
        let ones = from.unary(LONGEST)?;
        if ones < LONGEST {
            let value = u64::from(ones) << k | from.bits(k)?;
            self.learn(value);
            return Some(value);
        }
        let length = u32::try_from(from.bits(7)?).ok().filter(|length| *length <= u64::BITS)?;
        from.bits(length)
    }

    fn parameter(&self) -> u32 {
        let mut k = 0;
        while k < 32 && u64::from(self.count) << (k + 1) < self.sum {
            k += 1;
        }
        k
    }

    fn learn(&mut self, value: u64) {
        self.sum = self.sum.saturating_add(value);
        self.count += 1;
        if self.count == FORGET_AT {
            self.sum /= 2;
            self.count /= 2;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn any_number() -> impl Strategy<Value = u64> {
        prop_oneof![6 => 0..40_u64, 2 => 0..100_000_u64, 1 => any::<u64>()]
    }

    proptest! {
        #[test]
        fn any_numbers_come_back(
            numbers in proptest::collection::vec(any_number(), 0..300),
            mean in 1..100_u64,
        ) {
            let (mut out, mut rice) = (BitWriter::default(), Rice::expecting(mean));
            numbers.iter().for_each(|number| rice.write(&mut out, *number));
            let (mut from, mut rice) = (BitReader::new(out.bytes()), Rice::expecting(mean));
            for number in &numbers {
                prop_assert_eq!(rice.read(&mut from), Some(*number));
            }
        }
    }

    #[test]
    fn small_numbers_take_few_bits() {
        // Geometric numbers of mean 15, p = 1/16: by the formulas above H(p)/p = 5.40 bits is the
        // least, 5.48 the best of the codes (k = 3), 5.55 the next (k = 4).
        let (mut out, mut rice) = (BitWriter::default(), Rice::expecting(16));
        let mut state = 1_u64;
        let count = 20_000;
        for _ in 0..count {
            let mut value = 0;
            loop {
                state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1);
                if state >> 60 == 0 {
                    break;
                }
                value += 1;
            }
            rice.write(&mut out, value);
        }
        let bits = out.len() as f64 * 8.0 / f64::from(count);
        assert!((5.40..5.60).contains(&bits), "{bits}");
    }

    #[test]
    fn a_reader_past_the_end_says_so() {
        let mut from = BitReader::new(&[0xff, 0xff]);
        assert_eq!(Rice::expecting(1).read(&mut from), None);
    }
}
