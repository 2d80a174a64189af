//! How many things a case may hold. Every end leaves room for jobs several times larger than any that was heard of; beyond it a file
//! was made by a slip or in spite, and would run for hours.

/// Steps: clampings of one part.
pub(super) const MOST_STEPS: usize = 200;
/// Cuts in a step; after each of them the contact is found anew.
pub(super) const MOST_CUTS: usize = 50;
/// Holds to choose from.
pub(super) const MOST_HOLDS: usize = 100;
/// Schemes that act together in a hold.
pub(super) const MOST_SCHEMES: usize = 20;
/// Axial positions of a tube that are reported, each with its shapes.
pub(super) const MOST_STATIONS: usize = 1000;
/// Points of a tube's outline: ten times those of a turned part with all its chamfers.
pub(super) const MOST_OUTLINE: usize = 200;
/// Tables of lobes; a stock known better than that is given by its readings.
pub(super) const MOST_LOBE_TABLES: usize = 200;
/// Characters of a title or a name, which stand on one line.
pub(super) const MOST_TITLE: usize = 200;
/// Characters of the name of a hold.
pub(super) const MOST_NAME: usize = 60;
/// Problems that are listed; the rest is counted.
pub(super) const MOST_PROBLEMS: usize = 100;
