//! What a probe at the base of the pot says of the layer on it.
//!
//! ```text
//! T_base − T = q (R_m + 1/h) + q δ/k + offset
//! ```
//!
//! T_base reading under the base, °C; T the pot's; q flux through the base, W/m²; R_m metal and
//! contact, m² K/W; h the film, W/m² K; δ/k the layer, m² K/W. Just after a stir the layer is gone, so
//! what is read then is the *clean* excess: metal, film, contact and the probe's own offset together.
//! It goes with q; what is read above it later is the layer's share. Nothing of metal or contact needs
//! to be known.

/// The base shows the clean pot this long after a stir: the probe has followed, nothing lies yet, s.
const CLEAN_S: (f64, f64) = (30.0, 50.0);
/// A flux this small says nothing, W/m².
const LEAST_FLUX: f64 = 2000.0;
/// How far the flux may have gone from where the clean excess was seen.
const TURNED: (f64, f64) = (0.4, 2.5);

/// The clean excess, and the layer above it.
#[derive(Debug, Clone, Default)]
pub struct Base {
    clean: Option<(f64, f64)>,
    sum: (f64, f64),
    seconds: u32,
}

impl Base {
    /// Takes a second, `since_s` after the last stir; gives q δ/k, K, where it is known.
    pub fn second(&mut self, since_s: f64, excess_k: Option<f64>, flux: f64) -> Option<f64> {
        let excess_k = excess_k?;
        if since_s < CLEAN_S.0 {
            (self.sum, self.seconds) = ((0.0, 0.0), 0);
        } else if since_s <= CLEAN_S.1 {
            self.sum = (self.sum.0 + excess_k, self.sum.1 + flux);
            self.seconds += 1;
            let n = f64::from(self.seconds);
            self.clean = Some((self.sum.0 / n, self.sum.1 / n));
        }
        let (clean_k, clean_flux) = self.clean.filter(|(_, flux)| *flux > LEAST_FLUX)?;
        let by = (flux / clean_flux).clamp(TURNED.0, TURNED.1);
        Some((excess_k - clean_k * by).max(0.0))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn after_a_stir(base: &mut Base, excess_k: f64, flux: f64) {
        for s in 0..60 {
            base.second(f64::from(s), Some(excess_k), flux);
        }
    }

    #[test]
    fn what_the_base_shows_above_the_clean_pot_is_the_layer() {
        let mut base = Base::default();
        assert_eq!(base.second(300.0, Some(20.0), 16_000.0), None);
        after_a_stir(&mut base, 9.0, 16_000.0);
        assert_eq!(base.second(300.0, Some(31.0), 16_000.0), Some(22.0));
    }

    #[test]
    fn a_flame_turned_down_is_no_cleaner_bottom() {
        let mut base = Base::default();
        after_a_stir(&mut base, 10.0, 20_000.0);
        assert_eq!(base.second(300.0, Some(15.0), 10_000.0), Some(10.0));
    }

    #[test]
    fn without_a_reading_nothing_is_said() {
        let mut base = Base::default();
        after_a_stir(&mut base, 10.0, 20_000.0);
        assert_eq!(base.second(300.0, None, 20_000.0), None);
    }
}
