//! What was typed into a form, as a report: every fault of it beside its field.

use std::collections::BTreeMap;

use actix_web::web;
use chrono::{DateTime, LocalResult, NaiveDate, NaiveDateTime, TimeZone, Utc};
use chrono_tz::Tz;
use serde_json::{Map, Value, json};

use super::{
    ask::{Ask, STAGES},
    page::{Floor, measure},
};
use crate::{
    body::{Fault, into_typed, into_value},
    problem::{Code, Problem},
    sheet::{Language, Units},
    wire::{self, completion::CompletionRequest, time},
};

/// How many fields are read of what is sent.
const MAX_FIELDS: usize = 300;
/// How long a form's own key may be.
const MAX_KEY: usize = 64;

/// What stands in the fields, by their names.
#[derive(Debug, Default)]
pub(crate) struct Filled(BTreeMap<String, String>);

/// The names of the fields that hold quantities. Each unit has its own, so that what was typed in one is never taken for the other.
#[derive(Debug, Clone, Copy)]
pub(super) struct Names {
    /// The area.
    pub(super) area: &'static str,
    /// The volume of a product, before its number.
    pub(super) volume: &'static str,
}

/// The names of a form in these units.
pub(super) const fn names(units: Units) -> Names {
    match units {
        Units::Metric => Names {
            area: "area_m2",
            volume: "litres",
        },
        Units::Us => Names {
            area: "area_ft2",
            volume: "gallons",
        },
    }
}

/// What is wrong, and beside which field it is told; none if beside no single one.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Wrong {
    /// The field.
    pub(super) field: Option<String>,
    /// What kind of fault it is.
    pub(super) code: &'static str,
    /// What is wrong, in English.
    pub(super) told: String,
}

impl Filled {
    /// A form that nobody has filled in yet, under its own key.
    pub(crate) fn fresh(key: String) -> Self {
        Self([("key".to_owned(), key)].into())
    }

    /// Reads what a form sends; fields that nobody asked for are passed over.
    ///
    /// # Errors
    /// `bad_request` for what no form sends.
    pub(crate) fn read(body: &[u8]) -> Result<Self, Problem> {
        let bad = || Problem::new(Code::BadRequest, "The form's fields cannot be read.");
        let text = std::str::from_utf8(body).map_err(|_not_text| bad())?;
        let pairs = web::Query::<Vec<(String, String)>>::from_query(text);
        let pairs = pairs.map_err(|_not_fields| bad())?.into_inner();
        if pairs.len() > MAX_FIELDS {
            return Err(bad());
        }
        Ok(Self(pairs.into_iter().collect()))
    }

    /// What stands in a field, without the space around it.
    pub(super) fn get(&self, field: &str) -> &str {
        self.0.get(field).map_or("", |text| text.trim())
    }

    /// The form's own key, if it is one that a form of ours has.
    pub(crate) fn key(&self) -> Option<&str> {
        let key = self.get("key");
        let plain = |byte: u8| byte.is_ascii_alphanumeric() || byte == b'-';
        ((1..=MAX_KEY).contains(&key.len()) && key.bytes().all(plain)).then_some(key)
    }

    /// The report that it makes about a floor.
    ///
    /// # Errors
    /// Every fault of its form: what cannot be read, and what breaks the bounds of a report; `internal`.
    pub(crate) fn report(
        &self,
        ask: &Ask,
        (id, floor): (&str, &Floor<'_>),
    ) -> Result<Result<CompletionRequest, Vec<Wrong>>, Problem> {
        let mut reading = Reading {
            filled: self,
            floor,
            wrong: Vec::new(),
        };
        let zone = floor.zone;
        let mut report = Map::new();
        report.insert("surface_id".to_owned(), id.into());
        let began = reading.moment("started_at", zone, None);
        let ended = reading.moment("finished_at", zone, began);
        for (name, moment) in [("started_at", began), ("finished_at", ended)] {
            // Without one the rest is judged all the same.
            let moment = time::write(moment.or(began).unwrap_or_default());
            report.insert(name.to_owned(), moment.into());
        }
        let area = reading.number(names(floor.units).area);
        let area = area.map(|typed| measure(floor).square_metres(typed, floor.area_m2));
        for (name, value) in [
            ("area_m2", area),
            ("surface_ph", reading.number("surface_ph")),
        ] {
            report.extend(value.map(|value| (name.to_owned(), value.into())));
        }
        for name in ["seal_coats", "polish_coats"] {
            report.extend(reading.whole(name).map(|value| (name.to_owned(), value)));
        }
        for name in ["operative_ref", "note"] {
            report.extend(reading.text(name).map(|value| (name.to_owned(), value)));
        }
        let labour = ask.stages.iter().filter_map(|(n, _)| {
            let stage = STAGES.get(*n)?;
            let field = format!("hours_{stage}");
            // One that cannot be read keeps its place, by which faults are told.
            let typed = !self.get(&field).is_empty();
            let hours = typed.then(|| reading.number(&field).unwrap_or_default())?;
            Some(json!({"stage": stage, "hours": hours}))
        });
        let labour: Vec<Value> = labour.collect();
        report.insert("labour".to_owned(), labour.into());
        let mut dried = Vec::new();
        for film in &ask.films {
            let field = film.field();
            if !self.get(&field).is_empty() {
                // One that cannot be read keeps its place, by which faults are told.
                let minutes = reading.whole(&field).unwrap_or_else(|| 1.into());
                dried.push(json!({"wait": film.wait, "after_min": minutes}));
            }
        }
        report.insert("dried".to_owned(), dried.into());
        let mut products = Vec::new();
        for (n, product) in ask.products.iter().enumerate() {
            products.extend(reading.product(n, &product.key));
        }
        report.insert("products".to_owned(), products.into());
        let mut wrong = reading.wrong;
        let sent = into_value(wire::document(&report)?.as_bytes());
        match sent.and_then(|sent| into_typed::<CompletionRequest>("#", sent)) {
            Ok(request) if wrong.is_empty() => Ok(Ok(request)),
            Ok(_) => Ok(Err(wrong)),
            Err(problem) if problem.code() == Code::InvalidBody => {
                let broken = place(problem.faults(), (ask, floor.units), self);
                for one in broken {
                    if !wrong.iter().any(|told| told.field == one.field) {
                        wrong.push(one);
                    }
                }
                Ok(Err(wrong))
            }
            Err(problem) => Err(problem),
        }
    }
}

/// Which fault of a report belongs beside which field.
pub(crate) fn place(faults: &[Fault], (ask, units): (&Ask, Units), filled: &Filled) -> Vec<Wrong> {
    let names = names(units);
    let hours = ask.stages.iter().filter_map(|(n, _)| STAGES.get(*n));
    let hours: Vec<String> = hours.map(|stage| format!("hours_{stage}")).collect();
    let sent = hours.iter().filter(|name| !filled.get(name).is_empty());
    let mut fields: Vec<(String, String)> = sent
        .enumerate()
        .map(|(at, name)| (format!("#/labour/{at}"), name.clone()))
        .collect();
    let used = (0..ask.products.len()).filter(|n| used(filled, names, *n));
    for (at, n) in used.enumerate() {
        for (member, field) in [("batch", "batch"), ("expires_on", "expires_on")] {
            fields.push((format!("#/products/{at}/{member}"), format!("{field}_{n}")));
        }
        fields.push((format!("#/products/{at}"), format!("{}_{n}", names.volume)));
    }
    let films = ask.films.iter().map(super::ask::Film::field);
    let sent = films.filter(|field| !filled.get(field).is_empty());
    fields.extend(
        sent.enumerate()
            .map(|(at, field)| (format!("#/dried/{at}"), field)),
    );
    let first = hours.first().cloned();
    fields.push((
        "#/labour".to_owned(),
        first.unwrap_or_else(|| format!("{}_0", names.volume)),
    ));
    fields.push(("#/area_m2".to_owned(), names.area.to_owned()));
    for name in [
        "started_at",
        "finished_at",
        "seal_coats",
        "polish_coats",
        "surface_ph",
        "operative_ref",
        "note",
    ] {
        fields.push((format!("#/{name}"), name.to_owned()));
    }
    let wrong = faults.iter().map(|fault| {
        let pointer = fault.pointer.as_deref().unwrap_or_default();
        let field = fields.iter().find(|(place, _)| {
            let rest = pointer.strip_prefix(place.as_str());
            rest.is_some_and(|rest| rest.is_empty() || rest.starts_with('/'))
        });
        let is_nothing = pointer == "#/labour" && fault.code == "required";
        Wrong {
            field: field.map(|(_, name)| name.clone()),
            code: if is_nothing {
                "nothing_told"
            } else {
                fault.code
            },
            told: fault.detail.clone().into_owned(),
        }
    });
    wrong.collect()
}

/// Whether anything is said of a product.
fn used(filled: &Filled, names: Names, n: usize) -> bool {
    let fields = [names.volume, "batch", "expires_on"];
    fields
        .iter()
        .any(|name| !filled.get(&format!("{name}_{n}")).is_empty())
}

/// Fields that are being read, with what is wrong so far.
struct Reading<'a> {
    filled: &'a Filled,
    floor: &'a Floor<'a>,
    wrong: Vec<Wrong>,
}

impl Reading<'_> {
    fn refuse(&mut self, field: &str, code: &'static str) {
        self.wrong.push(Wrong {
            field: Some(field.to_owned()),
            code,
            told: String::new(),
        });
    }

    fn text(&self, field: &str) -> Option<Value> {
        let text = self.filled.get(field);
        // Forms send lines with both ends.
        (!text.is_empty()).then(|| text.replace("\r\n", "\n").into())
    }

    fn number(&mut self, field: &str) -> Option<f64> {
        let text = self.filled.get(field).to_owned();
        if text.is_empty() {
            return None;
        }
        let number = number(&text, self.floor.language);
        if number.is_none() {
            self.refuse(field, "number");
        }
        number
    }

    fn whole(&mut self, field: &str) -> Option<Value> {
        let text = self.filled.get(field).to_owned();
        if text.is_empty() {
            return None;
        }
        let digits = text.len() <= 9 && text.bytes().all(|byte| byte.is_ascii_digit());
        let number = text.parse::<i64>().ok().filter(|_| digits);
        if number.is_none() {
            self.refuse(field, "whole");
        }
        number.map(Value::from)
    }

    /// A product with what is said of it; its litres are needed if anything is.
    fn product(&mut self, n: usize, key: &str) -> Option<Value> {
        let names = names(self.floor.units);
        if !used(self.filled, names, n) {
            return None;
        }
        let field = format!("{}_{n}", names.volume);
        let mut product = Map::new();
        product.insert("product".to_owned(), key.into());
        if self.filled.get(&field).is_empty() {
            self.refuse(&field, "required");
        }
        let typed = self.number(&field).unwrap_or_default();
        let litres = measure(self.floor).litres(typed);
        product.insert("volume_l".to_owned(), litres.into());
        product.extend(
            self.text(&format!("batch_{n}"))
                .map(|batch| ("batch".to_owned(), batch)),
        );
        let field = format!("expires_on_{n}");
        let day = self.filled.get(&field).to_owned();
        if !day.is_empty() {
            match NaiveDate::parse_from_str(&day, "%Y-%m-%d") {
                Ok(day) => {
                    product.insert("expires_on".to_owned(), day.to_string().into());
                }
                Err(_not_a_day) => self.refuse(&field, "date"),
            }
        }
        Some(product.into())
    }

    /// A clock time of the site. Of two moments that a clock shows alike (when it is put back) the first counts, unless it is
    /// not after `after`.
    fn moment(
        &mut self,
        field: &str,
        zone: Tz,
        after: Option<DateTime<Utc>>,
    ) -> Option<DateTime<Utc>> {
        let text = self.filled.get(field).replace(' ', "T");
        if text.is_empty() {
            self.refuse(field, "required");
            return None;
        }
        let forms = ["%Y-%m-%dT%H:%M", "%Y-%m-%dT%H:%M:%S"];
        let read = |form: &str| NaiveDateTime::parse_from_str(&text, form).ok();
        let Some(clock) = forms.into_iter().find_map(read) else {
            self.refuse(field, "moment");
            return None;
        };
        match zone.from_local_datetime(&clock) {
            LocalResult::Single(moment) => Some(moment.to_utc()),
            LocalResult::Ambiguous(first, second) => {
                let late = after.is_some_and(|after| first.to_utc() <= after);
                Some(if late { second } else { first }.to_utc())
            }
            LocalResult::None => {
                self.refuse(field, "no_such_moment");
                None
            }
        }
    }
}

/// A number as people write it, with a point or a comma. One whose mark may part thousands in this language is not guessed.
fn number(text: &str, language: Language) -> Option<f64> {
    let (whole, part) = match text.split_once([',', '.']) {
        Some((whole, part)) => (whole, Some(part)),
        None => (text, None),
    };
    let digits = |text: &str, most: usize| {
        (1..=most).contains(&text.len()) && text.bytes().all(|byte| byte.is_ascii_digit())
    };
    let thousands = match language {
        Language::English => ',',
        Language::German => '.',
    };
    let is_unclear =
        text.contains(thousands) && whole != "0" && part.is_some_and(|part| part.len() == 3);
    let is_number = digits(whole, 9) && part.is_none_or(|part| digits(part, 6));
    let plain = text.replace(',', ".");
    plain
        .parse()
        .ok()
        .filter(|_: &f64| is_number && !is_unclear)
}

#[cfg(test)]
mod tests;
