//! A nearly round ring whose hold is locked.

use std::sync::Arc;

use super::RoundContact;
use crate::contact::elastic::{Among, Elastic, Sum};
use crate::contact::locked::{LockedDofs, LockedResponse, OutlineAdds, OutlineFactors, ToolPlaces};
use crate::contact::pressure::{PressureDof, WallId};
use crate::contact::ring::Ring;
use crate::contact::round_sleeve::RoundSleeve;
use crate::contact::{Clamp, ContactError};

impl RoundContact {
    /// What unit tool forces do to the part in a state whose bodies are locked, known by which pressures are active and their sizes (MPa); with
    /// what its outline adds, where it is not round.
    ///
    /// # Errors
    /// [`ContactError::ToolNotResisted`].
    pub fn locked(
        &self,
        clamp: &Clamp,
        (active, pressures): (&[bool], &[f64]),
        places: &ToolPlaces,
        outline: Option<OutlineFactors>,
    ) -> Result<LockedResponse, ContactError> {
        let locked = LockedDofs::new(&self.dofs, active, pressures, places);
        let all = locked.all.len();
        let on_part = locked.on_part();
        let acting: Vec<PressureDof> = on_part.iter().map(|&k| locked.all[k].clone()).collect();
        let mut ring = Ring::new(Arc::clone(&self.body.kernels), &acting, WallId::PART);
        let mut adds = outline.map(|factors| OutlineAdds::new(factors, &acting));
        let sleeves = self.sleeves.iter().enumerate();
        let mut sleeves: Vec<RoundSleeve> = sleeves
            .map(|(k, s)| s.under(&locked.all, WallId::sleeve(k)))
            .collect();
        let mut layer = locked.layer(&clamp.bodies);
        let mut part = Among::new(&mut ring, &on_part, all);
        let mut added = adds.as_mut().map(|a| Among::new(a, &on_part, all));
        let mut around: Vec<Among> = sleeves.iter_mut().map(|s| s.among(all)).collect();
        let mut behind = layer
            .as_mut()
            .map(|l| locked.under_active(l as &mut dyn Elastic));
        let mut bodies: Vec<&mut dyn Elastic> = vec![&mut part];
        bodies.extend(added.as_mut().map(|a| a as &mut dyn Elastic));
        bodies.extend(around.iter_mut().map(|s| s as &mut dyn Elastic));
        bodies.extend(behind.as_mut().map(|l| l as &mut dyn Elastic));
        locked.respond(&mut Sum::new(bodies), outline.is_some(), clamp.bodies.len())
    }
}
