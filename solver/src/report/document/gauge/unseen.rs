//! What readings do not show, taken back from a document: bounds instead of figures, and the reason beside each.

use super::{
    CircleDocument, RangeDocument, ReadDocument, SpanDocument, UnknownDocument, VeeDocument,
    on_bisector,
};
use crate::metrology::inversion::Recovered;
use crate::metrology::{Gauge, transmission};

impl ReadDocument {
    /// Takes back what rests on lobes that the readings do not show; `recovered` is what they said.
    ///
    /// What remains of a range or a roundness is its lower bound. One-sided circles are gone altogether, because an unseen lobe may move them either way.
    pub fn keep_what_is_seen(&mut self, recovered: &Recovered) {
        if recovered.gauge == Gauge::Radius {
            return;
        }
        let whole = |_: u32| 1.0;
        let off_axis = format!(
            "read on a {}, which does not say how far the part is off an axis",
            recovered.gauge
        );
        let round = recovered.at_least(Gauge::Radius, whole);
        self.between_centres = RangeDocument {
            range: None,
            lower_bound: Some(round),
        };
        self.unknown_for("between_centres", &off_axis);
        let unseen = format!(
            "rests on lobes that readings on a {} do not show",
            recovered.gauge
        );
        let hidden = recovered.unseen_lobes().next().is_some();
        if hidden {
            self.bound_circles(recovered, &unseen);
            self.shows_best = None;
            self.blind = Vec::new();
            for what in ["shows_best", "blind"] {
                self.unknown_for(what, &unseen);
            }
        }
        let mut bounded = Vec::new();
        for row in &mut self.readings {
            if hidden {
                row.magnifies = None;
            }
            if !recovered.tells(row.kind) {
                let bound = recovered.at_least(row.kind, whole);
                (row.range, row.lower_bound, row.magnifies) = (None, Some(bound), None);
                bounded.push(row.kind);
            }
        }
        for gauge in bounded {
            let why = match gauge {
                Gauge::Radius => &off_axis,
                _ => &unseen,
            };
            self.unknown_for(&gauge.to_string(), why);
        }
        let bound = |g: Gauge| (!recovered.tells(g)).then(|| recovered.at_least(g, whole));
        for (rides, rows) in [(false, &mut self.vee), (true, &mut self.rider)] {
            for row in rows {
                if let Some(bound) = bound(Gauge::Vee(on_bisector(row.angle, rides))) {
                    (row.range, row.lower_bound) = (None, Some(bound));
                }
            }
        }
        let spans = [
            (Gauge::TwoPoint, Some(&mut self.two_point)),
            (Gauge::ThreePoint, self.three_point.as_mut()),
            (Gauge::Plate, self.plate.as_mut()),
        ];
        for (gauge, span) in spans {
            if let (Some(span), Some(bound)) = (span, bound(gauge)) {
                *span = SpanDocument {
                    range: None,
                    lower_bound: Some(bound),
                    min: None,
                    max: None,
                };
            }
        }
    }

    /// Roundness as a lower bound, and no one-sided circles.
    fn bound_circles(&mut self, recovered: &Recovered, why: &str) {
        let round = recovered.at_least(Gauge::Radius, |_| 1.0);
        let bound = |c: &mut CircleDocument, least: f64| {
            c.lower_bound = Some(least.min(c.roundness));
            c.controlling = Vec::new();
        };
        bound(&mut self.minimum_zone, round);
        bound(&mut self.least_squares, round);
        (self.maximum_inscribed, self.minimum_circumscribed) = (None, None);
        let mut nulls = vec!["maximum_inscribed", "minimum_circumscribed"];
        if let Some(f) = &mut self.filtered {
            let cut_off = f.filter_upr;
            let least = recovered.at_least(Gauge::Radius, |n| transmission(n, cut_off));
            bound(&mut f.minimum_zone, least);
            bound(&mut f.least_squares, least);
            (f.maximum_inscribed, f.minimum_circumscribed) = (None, None);
            nulls.extend([
                "filtered.maximum_inscribed",
                "filtered.minimum_circumscribed",
            ]);
        }
        for what in nulls {
            self.unknown_for(what, why);
        }
    }

    /// Says that so few readings give a lower bound of the roundness: the narrowest zone of some places of a part is never wider than that of all.
    /// Which gauge shows the part best, and which hardly, rests on lobes between the readings, so neither is said.
    pub fn few_readings(&mut self) {
        self.shows_best = None;
        self.blind = Vec::new();
        for what in ["shows_best", "blind"] {
            self.unknown_for(what, "rests on lobes that so few readings do not show");
        }
        let zones = [
            Some(&mut self.minimum_zone),
            self.filtered.as_mut().map(|f| &mut f.minimum_zone),
        ];
        for zone in zones.into_iter().flatten() {
            zone.lower_bound = zone.lower_bound.or(Some(zone.roundness));
        }
    }

    /// Lets the row of the gauge that the readings were taken on show no less than was read: what is rebuilt from the lobes leaves scatter out.
    /// `limits` are the smallest and largest reading, mm, diameters if `diameters`.
    pub fn show_what_was_read(&mut self, gauge: Gauge, limits: [f64; 2], diameters: bool) {
        let [low, high] = limits;
        let at_least = |range: &mut Option<f64>| {
            if let Some(range) = range {
                *range = range.max(high - low);
            }
        };
        for row in self.readings.iter_mut().filter(|r| r.kind == gauge) {
            let before = row.range;
            at_least(&mut row.range);
            if let (Some(times), Some(old), Some(new)) = (&mut row.magnifies, before, row.range) {
                *times *= if old > 0.0 { new / old } else { 1.0 };
            }
        }
        for (rides, rows) in [(false, &mut self.vee), (true, &mut self.rider)] {
            let own = |v: &&mut VeeDocument| Gauge::Vee(on_bisector(v.angle, rides)) == gauge;
            rows.iter_mut()
                .filter(own)
                .for_each(|v| at_least(&mut v.range));
        }
        let span = match gauge {
            Gauge::TwoPoint => Some(&mut self.two_point),
            Gauge::ThreePoint => self.three_point.as_mut(),
            Gauge::Plate => self.plate.as_mut(),
            _ => None,
        };
        if let Some(span) = span {
            at_least(&mut span.range);
            if diameters {
                span.min = span.min.map(|m| m.min(low));
                span.max = span.max.map(|m| m.max(high));
                span.range = span.max.zip(span.min).map(|(max, min)| max - min);
            }
        }
    }

    fn unknown_for(&mut self, what: &str, reason: &str) {
        // one reason a key: the last, which says most
        self.unknown.retain(|u| u.what != what);
        self.unknown.push(UnknownDocument {
            what: what.into(),
            reason: reason.into(),
        });
    }
}
