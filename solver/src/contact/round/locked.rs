//! A nearly round ring whose hold is locked.

use std::sync::Arc;

use super::RoundContact;
use crate::contact::elastic::{Among, Elastic, Sum};
use crate::contact::locked::{
    LockedDofs, LockedResponse, OutlineAdds, OutlineFactors, PressedBy, Tool,
};
use crate::contact::pressure::{PressureDof, WallId};
use crate::contact::ring::Ring;
use crate::contact::round_sleeve::RoundSleeve;
use crate::contact::{Clamp, ContactError};

impl RoundContact {
    /// What a tool does to the part in a state whose bodies are locked; with what its outline adds, where it is not round.
    ///
    /// # Errors
    /// [`ContactError::ToolNotResisted`], [`ContactError::Cycled`], [`ContactError::Linear`].
    pub fn locked(
        &self,
        clamp: &Clamp,
        by: PressedBy,
        tool: Tool,
        outline: Option<OutlineFactors>,
    ) -> Result<LockedResponse, ContactError> {
        let reach = tool.reach(self.body.annulus());
        let response = self.locked_within(clamp, by, tool, outline, reach)?;
        let most = response.dip.iter().fold(0.0_f64, |m, d| m.max(*d));
        if 2.0 * most < reach {
            return Ok(response);
        }
        self.locked_within(clamp, by, tool, outline, f64::INFINITY)
    }

    /// The same where gaps beyond `reach` (mm) stay open.
    fn locked_within(
        &self,
        clamp: &Clamp,
        by: PressedBy,
        tool: Tool,
        outline: Option<OutlineFactors>,
        reach: f64,
    ) -> Result<LockedResponse, ContactError> {
        let locked = LockedDofs::new(&self.dofs, by, tool, reach);
        let all = locked.all.len();
        let on_part = locked.on_part();
        let acting: Vec<PressureDof> = on_part.iter().map(|&k| locked.all[k].clone()).collect();
        let mut ring = Ring::new(Arc::clone(&self.body.kernels), &acting, WallId::PART);
        let mut adds = outline.map(|factors| OutlineAdds::new(factors, &acting, &tool.places));
        let sleeves = self.sleeves.iter().enumerate();
        let mut sleeves: Vec<RoundSleeve> = sleeves
            .map(|(k, s)| s.under(&locked.all, WallId::sleeve(k)))
            .collect();
        let mut layer = locked.layer(clamp);
        let mut part = Among::new(&mut ring, &on_part, all);
        let mut added = adds.as_mut().map(|a| Among::new(a, &on_part, all));
        let mut around: Vec<Among> = sleeves.iter_mut().map(|s| s.among(all)).collect();
        let mut behind = layer
            .as_mut()
            .map(|l| locked.under_hold(l as &mut dyn Elastic));
        let mut bodies: Vec<&mut dyn Elastic> = vec![&mut part];
        bodies.extend(added.as_mut().map(|a| a as &mut dyn Elastic));
        bodies.extend(around.iter_mut().map(|s| s as &mut dyn Elastic));
        bodies.extend(behind.as_mut().map(|l| l as &mut dyn Elastic));
        locked.respond(&mut Sum::new(bodies), outline.is_some(), clamp.bodies.len())
    }
}
