//! The estate of the demonstration: a school, a day clinic and two contractors, all of our own invention.
//!
//! Names, prices and floors are made up; nothing here stands for a real place or firm.

mod floors;

use chrono::NaiveDate;
use serde::Serialize;
use serde_json::{Value, json};

use super::answer::Money;
pub(super) use floors::{ASSEMBLY_HALL, KITCHEN, MUSIC_ROOM, QUENDELFURT_FLOORS, TARNFIELD_FLOORS};

/// The system whose names the estate's external names are.
pub(super) const SYSTEM: &str = "demo-register";

/// A site, with the rates that differ between the two.
pub(super) struct SiteSeed {
    pub(super) id: &'static str,
    name: &'static str,
    country: &'static str,
    time_zone: &'static str,
    currency: &'static str,
    climate: (f64, f64),
    labour_per_h: &'static str,
    tax_pct: u8,
    waste_per_l: &'static str,
    rotary_per_h: &'static str,
    packs: &'static [(&'static str, f64, &'static str)],
    pub(super) floors: &'static [Floor],
}

/// The school and the clinic.
#[rustfmt::skip]
pub(super) const SITES: [SiteSeed; 2] = [
    SiteSeed {
        id: "T", name: "Tarnfield Lower School", country: "GB", time_zone: "Europe/London", currency: "GBP",
        climate: (19.0, 50.0), labour_per_h: "17.20", tax_pct: 20, waste_per_l: "0.05", rotary_per_h: "2.40",
        packs: &[
            ("stripper_alkaline", 5.0, "16.40"), ("stripper_alkaline", 20.0, "58.00"),
            ("seal_water_based", 5.0, "33.50"),
            ("polish_emulsion", 5.0, "22.80"), ("polish_emulsion", 10.0, "43.00"),
            ("detergent_scrub", 5.0, "15.20"), ("cleaner_neutral", 5.0, "14.90"),
            ("degreaser_alkaline", 5.0, "17.60"), ("spray_maintainer", 1.0, "6.30"),
        ],
        floors: TARNFIELD_FLOORS,
    },
    SiteSeed {
        id: "Q", name: "Quendelfurt Day Clinic", country: "DE", time_zone: "Europe/Berlin", currency: "EUR",
        climate: (21.0, 45.0), labour_per_h: "21.40", tax_pct: 19, waste_per_l: "0.08", rotary_per_h: "2.90",
        packs: &[
            ("stripper_alkaline", 10.0, "37.50"), ("seal_water_based", 10.0, "74.00"),
            ("polish_emulsion", 1.0, "6.90"), ("polish_emulsion", 10.0, "49.00"),
            ("detergent_scrub", 10.0, "31.00"), ("cleaner_neutral", 1.0, "4.60"),
            ("degreaser_alkaline", 10.0, "36.00"), ("spray_maintainer", 1.0, "7.10"),
        ],
        floors: QUENDELFURT_FLOORS,
    },
];

/// The contractors: id and name.
pub(super) const CONTRACTORS: [(&str, &str); 2] = [
    ("C-1", "Pale Heron Floor Care"),
    ("C-2", "Seven Brooms Cooperative"),
];

impl SiteSeed {
    /// The request that registers it, with a rate card that is valid from a day before all work.
    pub(super) fn request(&self, valid_from: NaiveDate) -> Value {
        let money = |amount: &str| Money {
            amount: amount.to_owned(),
            currency: self.currency.to_owned(),
        };
        let packs: Vec<Value> = self
            .packs
            .iter()
            .map(|(product, size_l, price)| {
                json!({"product": product, "size_l": size_l, "price": money(price)})
            })
            .collect();
        let (air_c, humidity_pct) = self.climate;
        json!({
            "name": self.name,
            "country": self.country,
            "time_zone": self.time_zone,
            "currency": self.currency,
            "climate": {"air_c": air_c, "humidity_pct": humidity_pct},
            "rate_card": {
                "valid_from": valid_from,
                "labour_per_h": money(self.labour_per_h),
                "allowance_pct": 10, "contingency_pct": 5, "overhead_pct": 12, "margin_pct": 8,
                "tax_pct": self.tax_pct,
                "crew_size": 2, "setup_min": 20, "clean_down_min": 20,
                "waste_per_l": money(self.waste_per_l),
                "packs": packs,
                "machines": [{"machine": "rotary_43", "per_h": money(self.rotary_per_h)}],
            },
            "external": External::new(self.id),
        })
    }
}

/// The name of a thing in the register of the demonstration.
#[derive(Debug, Clone, Copy, Serialize)]
pub(super) struct External {
    system: &'static str,
    id: &'static str,
}

impl External {
    pub(super) const fn new(id: &'static str) -> Self {
        Self { system: SYSTEM, id }
    }
}

/// A floor as it is registered, but for its site.
#[derive(Debug, Clone, Copy, Serialize)]
pub(super) struct Floor {
    pub(super) name: &'static str,
    pub(super) storey: &'static str,
    material: &'static str,
    area_m2: f64,
    perimeter_m: f64,
    #[serde(skip_serializing_if = "Option::is_none")]
    space: Option<&'static str>,
    #[serde(skip_serializing_if = "Option::is_none")]
    built_year: Option<u16>,
    #[serde(skip_serializing_if = "Option::is_none")]
    film: Option<Film>,
    #[serde(skip_serializing_if = "Option::is_none")]
    traffic: Option<&'static str>,
    #[serde(skip_serializing_if = "Option::is_none")]
    soil: Option<&'static str>,
    #[serde(skip_serializing_if = "Option::is_none")]
    obstruction: Option<&'static str>,
    #[serde(skip_serializing_if = "Option::is_none")]
    gloss_loss_pct: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    ptv_wet: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    moisture_rh_pct: Option<f64>,
    #[serde(skip_serializing_if = "Option::is_none")]
    wet_in_use: Option<bool>,
    #[serde(skip_serializing_if = "Option::is_none")]
    access_windows: Option<[AccessWindow; 1]>,
    #[serde(skip_serializing_if = "Option::is_none")]
    services: Option<Services>,
    #[serde(skip_serializing_if = "Option::is_none")]
    maker_instruction: Option<MakerInstruction>,
    external: External,
}

#[derive(Debug, Clone, Copy, Serialize)]
struct AccessWindow {
    days: &'static [&'static str],
    from: &'static str,
    to: &'static str,
}

#[derive(Debug, Clone, Copy, Serialize)]
struct Services {
    water: Water,
    power: Power,
    slurry_to: &'static str,
}

#[derive(Debug, Clone, Copy, Serialize)]
struct Water {
    present: bool,
    distance_m: f64,
}

#[derive(Debug, Clone, Copy, Serialize)]
struct Power {
    present: bool,
    rcd: bool,
}

#[derive(Debug, Clone, Copy, Serialize)]
struct MakerInstruction {
    reference: &'static str,
    read_on: &'static str,
    forbidden_processes: &'static [&'static str],
    ph_max: f64,
    pads: &'static [&'static str],
}

#[derive(Debug, Clone, Copy, Serialize)]
struct Film {
    kind: &'static str,
    #[serde(skip_serializing_if = "Option::is_none")]
    coats: Option<u8>,
    #[serde(skip_serializing_if = "Option::is_none")]
    condition: Option<&'static str>,
}

/// A floor and its site, as they are sent.
#[derive(Debug, Serialize)]
pub(super) struct SurfaceRequest<'a> {
    pub(super) site_id: &'a str,
    #[serde(flatten)]
    pub(super) floor: &'a Floor,
}

impl Floor {
    /// A room of this many m² with this many m of edge.
    const fn new(
        id: &'static str,
        (storey, name): (&'static str, &'static str),
        material: &'static str,
        (area_m2, perimeter_m): (f64, f64),
    ) -> Self {
        Self {
            name,
            storey,
            material,
            area_m2,
            perimeter_m,
            space: None,
            built_year: None,
            film: None,
            traffic: None,
            soil: None,
            obstruction: None,
            gloss_loss_pct: None,
            ptv_wet: None,
            moisture_rh_pct: None,
            wet_in_use: None,
            access_windows: None,
            services: None,
            maker_instruction: None,
            external: External::new(id),
        }
    }

    pub(super) const fn id(&self) -> &'static str {
        self.external.id
    }

    const fn built(mut self, year: u16) -> Self {
        self.built_year = Some(year);
        self
    }

    const fn space(mut self, space: &'static str) -> Self {
        self.space = Some(space);
        self
    }

    /// What lies on it.
    const fn film(mut self, kind: &'static str, coats: u8, condition: &'static str) -> Self {
        self.film = Some(Film {
            kind,
            coats: if coats == 0 { None } else { Some(coats) },
            condition: Some(condition),
        });
        self
    }

    /// The moisture that was read in its slab.
    const fn moist(mut self, rh_pct: f64) -> Self {
        self.moisture_rh_pct = Some(rh_pct);
        self
    }

    /// Nothing lies on it.
    const fn bare(mut self) -> Self {
        self.film = Some(Film {
            kind: "bare",
            coats: None,
            condition: None,
        });
        self
    }

    /// How it is used: traffic, soil, obstruction.
    const fn used(
        mut self,
        traffic: &'static str,
        soil: &'static str,
        obstruction: &'static str,
    ) -> Self {
        self.traffic = Some(traffic);
        self.soil = Some(soil);
        self.obstruction = Some(obstruction);
        self
    }

    const fn gloss_lost(mut self, pct: f64) -> Self {
        self.gloss_loss_pct = Some(pct);
        self
    }

    /// It may be closed on weekday nights.
    const fn closed_at_night(mut self, from: &'static str, to: &'static str) -> Self {
        let days = &["monday", "tuesday", "wednesday", "thursday", "friday"];
        self.access_windows = Some([AccessWindow { days, from, to }]);
        self
    }

    /// Water is this far away, sockets are guarded, slurry goes there.
    const fn served(mut self, distance_m: f64, slurry_to: &'static str) -> Self {
        self.services = Some(Services {
            water: Water {
                present: true,
                distance_m,
            },
            power: Power {
                present: true,
                rcd: true,
            },
            slurry_to,
        });
        self
    }

    /// What its maker says: no burnishing, nothing beyond this pH, soft pads.
    const fn by_its_maker(mut self, reference: &'static str, ph_max: f64) -> Self {
        self.maker_instruction = Some(MakerInstruction {
            reference,
            read_on: "2026-02-11",
            forbidden_processes: &["burnish_polish"],
            ph_max,
            pads: &["white", "red"],
        });
        self
    }

    /// It gets wet in use, and this is its wet pendulum value.
    const fn wet(mut self, ptv: f64) -> Self {
        self.wet_in_use = Some(true);
        self.ptv_wet = Some(ptv);
        self
    }
}
