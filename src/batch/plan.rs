//! What the cook means to do.

use super::composition::Composition;
use super::recipe::Until;

/// A batch as it is meant to go.
#[derive(Debug, Clone, PartialEq)]
pub struct Plan {
    pub name: String,
    /// Name of the pot that it is cooked in.
    pub pot: String,
    pub start: Start,
    /// In the order in which they are meant; each may come early, late or never.
    pub additions: Vec<PlannedAddition>,
    pub target: Option<Target>,
    /// Its stages in order; none where the batch names none.
    pub stages: Vec<PlannedStage>,
}

/// What is in the pot when the watching begins.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Start {
    pub contents_kg: f64,
    pub lid_on: bool,
    pub composition: Composition,
}

#[derive(Debug, Clone, PartialEq)]
pub struct PlannedAddition {
    pub name: String,
    pub kg: f64,
    pub composition: Composition,
}

/// A stage in the kitchen's own words, and by what its beginning and end are seen.
#[derive(Debug, Clone, PartialEq)]
pub struct PlannedStage {
    pub name: String,
    pub until: Until,
    /// Share of the pot's usual flame, 0 to 1.
    pub flame: f64,
    pub blends: bool,
    /// The addition that goes in as it begins.
    pub opens_with: Option<String>,
}

/// When the gravy is right. What each means in kilograms is in [`super::target`].
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Target {
    /// Dry matter as a fraction of the contents.
    TotalSolids(f64),
    /// Dry matter as a fraction of the contents, known to a standard deviation: a consistency.
    Consistency { total_solids: f64, sd: f64 },
    /// This much left in the pot, kg.
    Contents(f64),
    /// This much left in the pot, litres at the simmer.
    Litres(f64),
    /// Soluble solids of the filtered gravy, °Brix; `soluble` is the share of the solids that are
    /// neither fat nor salt that dissolves.
    Brix { brix: f64, soluble: f64 },
}
