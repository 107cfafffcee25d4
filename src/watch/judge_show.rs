//! What is shown of the pot, and what is foretold.

use crate::batch::plan::PlannedAddition;
use crate::moment::Moment;

use super::action::{Lid, Snapshot, Spread};
use super::bottom::Bottom;
use super::contents::Contents;
use super::forecast;
use super::heat;
use super::hold;
use super::judge::Pot;

/// What a platform may have drifted without a sign, kg: the last minutes before the target rest on it
/// (invented platforms of the virtual kitchen drift by 10 to 90 g in an hour and a half).
const DRIFT_DOUBT_KG: f64 = 0.035;
/// A pot that falls by this has no flame under it, K/s: 0.12 K a minute.
const COOLS_K_S: f64 = -2e-3;
/// What was poured in has mixed with the rest after this time, s.
const MIXES_S: f64 = 300.0;
/// A flame that was lit shows in the slope after this time, s.
const LIT_S: f64 = 120.0;
/// And makes no odds this near the boil, K.
const FAR_K: f64 = 20.0;
/// Water that is more than this share of the contents thins the gravy; less is an infusion.
const THINS_SHARE: f64 = 0.08;

impl Pot {
    /// Contents at which the target is reached, kg.
    pub(super) fn target_kg(&self) -> Option<f64> {
        self.target?.contents_kg(self.ledger())
    }

    /// The target counts once the thinning is in, the largest planned addition of water (or one that
    /// was planned after it: then it was left out).
    pub(super) fn waits_for_additions(&self) -> bool {
        let planned = &self.setting.plan.additions;
        let least_kg = THINS_SHARE * self.setting.plan.start.contents_kg;
        let thins = |a: &&PlannedAddition| a.composition.water() > 0.95 && a.kg > least_kg;
        let thinning = planned.iter().filter(thins).max_by(|a, b| a.kg.total_cmp(&b.kg));
        thinning.is_some_and(|thinning| self.remaining.contains(thinning))
            && self.remaining.last() == planned.last()
    }

    /// It was right and is ladled out: no target is ahead.
    pub(super) fn is_served(&self) -> bool {
        self.right_s.is_some() && self.served_kg > 0.0
    }

    pub(super) fn forecast(&self) -> Option<Spread> {
        let (contents, target_kg) = (self.contents.as_ref()?, self.target_kg()?);
        if self.scale.fault().is_some() {
            return None;
        }
        if self.waits_for_additions() || self.is_served() || self.flame_is_changing() {
            return None;
        }
        let warming = self.warming();
        // What leaves now says nothing of when it is right: it must be heated first.
        if warming.is_none() && self.below_boil_k().is_some_and(|k| k > FAR_K) {
            return None;
        }
        let (puffs, puffs_sd) =
            if self.warmth.is_boiling() { self.puffs.rate_kg_s() } else { (0.0, 0.0) };
        forecast::target_in_s(&forecast::Now {
            contents_kg: contents.contents_kg(),
            contents_sd_kg: contents.sd_kg().hypot(self.moved_var.sqrt()).hypot(DRIFT_DOUBT_KG),
            rate_kg_s: contents.rate_kg_s() + puffs,
            rate_sd_kg_s: contents.rate_sd_kg_s().hypot(puffs_sd),
            covariance: contents.covariance(),
            target_kg,
            warming,
        })
    }

    /// Nobody can say when while the pot cools, or far below the boil over a flame lit just now.
    fn flame_is_changing(&self) -> bool {
        let Some(below_k) = self.below_boil_k() else { return false };
        let cools = self.warmth.slope_k_s().is_some_and(|slope| slope < COOLS_K_S);
        let mixes = self.now_s - self.dilution_s < MIXES_S;
        let lit = mixes || self.warmth.slope_s() < LIT_S;
        cools || (below_k > FAR_K && lit)
    }

    /// How far below its boiling point the probe shows a pot that does not boil, K.
    fn below_boil_k(&self) -> Option<f64> {
        let shows = self.probe.fault().is_none() && !self.warmth.is_boiling();
        self.warmth.true_c().filter(|_| shows).map(|c| self.warmth.boil_c() - c)
    }

    fn warming(&self) -> Option<forecast::Warming> {
        let state = self.heat_state().filter(|s| !s.boiling)?;
        let boil_s = self.heat.boil_in_s(&state, self.warmth.boil_c())?;
        let at_boil = heat::State { pot_c: self.warmth.boil_c(), boiling: true, ..state };
        let (rate_kg_s, sd) = self.heat.boil_rate(&at_boil)?;
        let doubt = self.warmth.slope_doubt();
        let rate_sd_kg_s = sd.hypot(doubt * rate_kg_s);
        (boil_s < 3.0 * 3600.0 && rate_kg_s > state.rate_kg_s).then_some(forecast::Warming {
            boil_s,
            doubt,
            rate_kg_s,
            rate_sd_kg_s,
        })
    }

    pub(super) fn snapshot(&self, at: Moment) -> Snapshot {
        let contents = self.contents.as_ref().filter(|_| self.scale.fault().is_none());
        let known = contents.is_some();
        let per_hour = 3600.0;
        let next = self.remaining.first().map(|a| (a.name.clone(), a.kg));
        Snapshot {
            at,
            pot_c: self.warmth.pot_c(self.now_s).filter(|_| self.probe.fault().is_none()),
            contents_kg: contents.map(Contents::contents_kg),
            contents_sd_kg: contents.map(Contents::sd_kg),
            water_kg: known.then(|| self.ledger().water_kg()),
            fat_kg: known.then(|| self.ledger().fat_kg()),
            salt_kg: known.then(|| self.ledger().salt_kg()),
            total_solids: self.ledger().total_solids().filter(|_| known),
            evaporation_kg_h: contents.map(|c| c.rate_kg_s() * per_hour),
            evaporation_sd_kg_h: contents.map(|c| c.rate_sd_kg_s() * per_hour),
            heat_w: self.heat.watts(),
            lid: Some(if self.lid_on { Lid::On } else { Lid::Off }),
            boiling: self.warmth.pot_c(self.now_s).map(|_| self.warmth.is_boiling()),
            boil_c: Some(self.warmth.boil_c()),
            // What is still to be thinned has no way to go yet.
            target_kg: self.target_kg().filter(|_| !self.waits_for_additions()),
            target_in_s: self.forecast(),
            catch_index: self.bottom.as_ref().map(Bottom::index),
            stir_within_s: self.bottom.as_ref().and_then(Bottom::stir_within_s),
            since_stir_s: self.bottom.as_ref().map(Bottom::since_s),
            served_kg: (self.served_kg > 0.0).then_some(self.served_kg),
            runs_out_in_s: contents.and_then(|c| self.service.runs_out_in_s(at, c.contents_kg())),
            top_up_l: self
                .target
                .filter(|_| known && self.was_above)
                .and_then(|target| hold::top_up_l(self.ledger(), &target)),
            next_addition: next,
            raised: self.alarms.raised(),
        }
    }
}

#[cfg(test)]
mod tests {
    use crate::watch::trial::stove;

    #[test]
    fn a_pot_that_cold_water_has_just_cooled_is_given_no_time_until_its_flame_shows() {
        let mut stove = stove(0.13);
        (stove.c, stove.kg_h, stove.k_min) = (94.0, 1.0, 1.0);
        stove.stand(600);
        stove.pour(1.1);
        stove.pour(5.0);
        (stove.c, stove.k_min, stove.kg_h) = (62.0, 0.3, 0.2);
        stove.stand(200);
        assert_eq!(stove.shown.as_ref().unwrap().target_in_s, None);
        (stove.k_min, stove.kg_h) = (2.0, 0.4);
        stove.stand(600);
        let told = stove.shown.as_ref().unwrap().target_in_s.unwrap();
        assert!((3600.0..4.0 * 3600.0).contains(&told.p50), "{told:?}");
    }
}
