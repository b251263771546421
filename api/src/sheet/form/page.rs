//! The page of a form: its fields with what is wrong beside each, or what became of it.

use chrono_tz::Tz;
use maud::{DOCTYPE, Markup, PreEscaped, html};

use super::{
    ask::{Ask, STAGES},
    done,
    read::{Filled, Wrong, names},
};
use crate::sheet::{Language, Units, measure::Measure, words::FormWords};

/// How the page looks: dark on white, one column that fits 320 px, fields large enough for a thumb.
pub(crate) const STYLE: &str = "\
*{box-sizing:border-box}\
body{font:16px/1.45 system-ui,sans-serif;color:#000;background:#fff;max-width:34rem;margin:0 auto;padding:1rem;overflow-wrap:anywhere}\
h1{font-size:1.4rem;margin:0 0 .5rem}fieldset{border:1px solid #555;margin:1rem 0;padding:.25rem .75rem .75rem;min-width:0}legend,h2{font-weight:700;font-size:1.1rem;padding:0 .25rem}\
dl{display:grid;grid-template-columns:fit-content(40%) 1fr;gap:.15rem .75rem;margin:.5rem 0}dt{font-weight:600}dd{margin:0}\
label{display:block;font-weight:600;margin:.75rem 0 .15rem}\
input,textarea{font:inherit;width:100%;padding:.55rem;border:1px solid #333;border-radius:0;background:#fff;color:#000}\
input:focus,textarea:focus,button:focus,a:focus{outline:3px solid #0645ad;outline-offset:1px}\
[aria-invalid=true]{border:3px solid #a00000}\
.hint{margin:0;font-size:.9rem;color:#333}.wrong{margin:.15rem 0;color:#a00000;font-weight:700}\
.box{border:3px solid #000;padding:.5rem .75rem;margin:1rem 0}.bad{border-color:#a00000}\
a{color:#0645ad}button{font:inherit;font-weight:700;width:100%;padding:.9rem;border:0;background:#000;color:#fff;margin:1rem 0}\
@media print{button{display:none}}";

/// Keeps what is typed on the phone until it is recorded. The page works without it.
pub(crate) const SCRIPT: &str = "\
(function(){var s,k='wearcourse-form:'+location.pathname;try{s=window.localStorage}catch(e){}if(!s)return;\
var f=document.querySelector('form');if(!f){if(document.querySelector('[data-recorded]'))try{s.removeItem(k)}catch(e){}return}\
function each(g){Array.prototype.forEach.call(f.elements,function(e){if(e.name)g(e)})}\
function keep(){var v={};each(function(e){v[e.name]=e.value});try{s.setItem(k,JSON.stringify(v))}catch(e){}}\
if(f.hasAttribute('data-fresh')){try{var v=JSON.parse(s.getItem(k)||'null');if(v)each(function(e){if(typeof v[e.name]==='string')e.value=v[e.name]})}catch(e){}}else keep();\
f.addEventListener('input',keep);document.getElementById('kept').hidden=false;\
f.addEventListener('submit',function(e){keep();if(navigator.onLine===false){e.preventDefault();var o=document.getElementById('offline');o.hidden=false;o.focus()}})})();";

/// The floor that is reported of.
#[derive(Debug)]
pub(crate) struct Floor<'a> {
    /// What people call it.
    pub(crate) surface: &'a str,
    /// Its storey.
    pub(crate) storey: &'a str,
    /// What people call its site.
    pub(crate) site: &'a str,
    /// How large it is, in m².
    pub(crate) area_m2: f64,
    /// The zone of the site's clocks.
    pub(crate) zone: Tz,
    /// The language of the form.
    pub(crate) language: Language,
    /// The units in which it asks.
    pub(crate) units: Units,
}

/// What the page shows.
#[derive(Debug)]
pub(crate) enum Look<'a> {
    /// The form, empty or with what is wrong.
    Form {
        /// What is asked.
        ask: &'a Ask,
        /// What stands in the fields.
        filled: &'a Filled,
        /// What is wrong with it.
        wrong: &'a [Wrong],
        /// Whether nobody has sent it yet.
        fresh: bool,
    },
    /// What is recorded.
    Recorded {
        /// What was asked.
        ask: &'a Ask,
        /// The completion, as it was recorded.
        document: &'a str,
        /// Whether that was before.
        before: bool,
        /// Whether something else was sent now.
        changed: bool,
    },
    /// The plan does not count any more.
    Closed,
    /// No more reports may be made.
    UsedUp,
}

/// The whole page; of nobody's floor it says that the address opens nothing, in every language.
pub(crate) fn html(shown: Option<(&Floor<'_>, &Look<'_>)>) -> String {
    let language = shown.map_or(Language::English, |(floor, _)| floor.language);
    let words = language.form_words();
    let page = html! {
        (DOCTYPE)
        html lang=(language.tag()) {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                meta name="robots" content="noindex";
                title { (words.title) }
                style { (PreEscaped(STYLE)) }
            }
            body {
                @match shown {
                    Some((floor, look)) => { (header(floor, look, words)) main { (main(floor, look, words)) } }
                    None => main {
                        @for language in [Language::English, Language::German] {
                            @let words = language.form_words();
                            p.box lang=(language.tag()) { strong { (words.nothing) } " " (words.ask) }
                        }
                    },
                }
                script { (PreEscaped(SCRIPT)) }
            }
        }
    };
    page.into_string()
}

fn header(floor: &Floor<'_>, look: &Look<'_>, words: &FormWords) -> Markup {
    let ask = match look {
        Look::Form { ask, .. } | Look::Recorded { ask, .. } => Some(ask),
        Look::Closed | Look::UsedUp => None,
    };
    let sheet = floor.language.words();
    html! {
        header {
            h1 { (words.title) }
            dl {
                dt { (sheet.floor) } dd { (floor.surface) ", " (floor.site) }
                dt { (sheet.storey) } dd { (floor.storey) }
                dt { (sheet.area) } dd { (measure(floor).area(floor.area_m2)) }
                @if let Some(ask) = ask { dt { (words.process) } dd lang="en" { (ask.process) } }
            }
        }
    }
}

pub(super) fn measure(floor: &Floor<'_>) -> Measure {
    Measure {
        language: floor.language,
        units: floor.units,
    }
}

fn main(floor: &Floor<'_>, look: &Look<'_>, words: &FormWords) -> Markup {
    match look {
        Look::Form {
            ask,
            filled,
            wrong,
            fresh,
        } => {
            let fields = Fields {
                filled,
                wrong,
                words,
            };
            fields.form(floor, ask, *fresh)
        }
        Look::Recorded {
            ask,
            document,
            before,
            changed,
        } => done::recorded(floor, ask, (document, *before, *changed), words),
        Look::Closed => html! { p.box { strong { (words.closed) } " " (words.ask) } },
        Look::UsedUp => html! { p.box { strong { (words.used_up) } " " (words.ask) } },
    }
}

/// The fields of a form, and what is wrong with them.
struct Fields<'a> {
    filled: &'a Filled,
    wrong: &'a [Wrong],
    words: &'a FormWords,
}

/// One field: its name, what stands beside it, and how a phone is to take it in.
struct Field<'a> {
    name: &'a str,
    label: String,
    hint: Option<String>,
    kind: &'static str,
    keys: &'static str,
}

impl Fields<'_> {
    fn form(&self, floor: &Floor<'_>, ask: &Ask, fresh: bool) -> Markup {
        let (words, measure) = (self.words, measure(floor));
        let names = names(floor.units);
        let (area, volume) = match floor.units {
            Units::Metric => (words.area, words.litres),
            Units::Us => (words.area_us, words.gallons),
        };
        let planned = |text: String| Some(format!("{}: {text}", words.planned));
        html! {
            (self.summary(ask))
            p #offline .box.bad role="alert" tabindex="-1" hidden { (words.offline) }
            form method="post" data-fresh[fresh] novalidate {
                input type="hidden" name="key" value=(self.filled.get("key"));
                fieldset {
                    legend { (words.times) }
                    @for (name, label) in [("started_at", words.begun), ("finished_at", words.done)] {
                        (self.field(&Field { name, label: label.to_owned(), hint: Some(format!("{} ({})", words.clock, floor.zone.name())), kind: "datetime-local", keys: "text" }))
                    }
                    (self.field(&Field { name: names.area, label: area.to_owned(), hint: Some(format!("{}: {}", words.area_hint, measure.area(floor.area_m2))), kind: "text", keys: "decimal" }))
                }
                @if !ask.stages.is_empty() {
                    fieldset {
                        legend { (words.hours) }
                        p.hint { (words.hours_hint) }
                        @for (n, hours) in &ask.stages {
                            @if let (Some(name), Some(label)) = (STAGES.get(*n), words.stages.get(*n)) {
                                (self.field(&Field { name: &format!("hours_{name}"), label: (*label).to_owned(), hint: planned(format!("{} h", measure.figure(*hours, 1))), kind: "text", keys: "decimal" }))
                            }
                        }
                    }
                }
                @for (n, product) in ask.products.iter().enumerate() {
                    fieldset {
                        legend { span lang="en" { (product.name) } }
                        (self.field(&Field { name: &format!("{}_{n}", names.volume), label: volume.to_owned(), hint: Some(format!("{}; {}: {}", words.litres_hint, words.planned, measure.used(product.litres))), kind: "text", keys: "decimal" }))
                        (self.field(&Field { name: &format!("batch_{n}"), label: words.batch.to_owned(), hint: None, kind: "text", keys: "text" }))
                        (self.field(&Field { name: &format!("expires_on_{n}"), label: words.expires_on.to_owned(), hint: None, kind: "date", keys: "text" }))
                    }
                }
                @if ask.seal_coats + ask.polish_coats > 0 {
                    fieldset {
                        legend { (words.coats) }
                        @for (name, label, n) in [("seal_coats", words.seal_coats, ask.seal_coats), ("polish_coats", words.polish_coats, ask.polish_coats)] {
                            @if n > 0 { (self.field(&Field { name, label: label.to_owned(), hint: planned(n.to_string()), kind: "text", keys: "numeric" })) }
                        }
                    }
                }
                @if ask.ph || !ask.films.is_empty() {
                    fieldset {
                        legend { (words.readings) }
                        @if ask.ph { (self.field(&Field { name: "surface_ph", label: words.surface_ph.to_owned(), hint: None, kind: "text", keys: "decimal" })) }
                        @for film in &ask.films {
                            (self.field(&Field { name: &film.field(), label: format!("{}: {}", words.dried, film.name), hint: Some(words.dried_hint.to_owned()), kind: "text", keys: "numeric" }))
                        }
                    }
                }
                fieldset {
                    legend { (words.rest) }
                    (self.field(&Field { name: "operative_ref", label: words.operative_ref.to_owned(), hint: Some(words.operative_hint.to_owned()), kind: "text", keys: "text" }))
                    (self.field(&Field { name: "note", label: words.note.to_owned(), hint: None, kind: "area", keys: "text" }))
                }
                button type="submit" { (words.send) }
                p #kept .hint hidden { (words.kept) }
            }
        }
    }

    /// All that is wrong, with a way to each field.
    fn summary(&self, ask: &Ask) -> Markup {
        html! {
            @if !self.wrong.is_empty() {
                div.box.bad role="alert" {
                    p { strong { (self.words.faults) } }
                    ul {
                        @for wrong in self.wrong {
                            li {
                                @match &wrong.field {
                                    Some(field) => a href=(format!("#{field}")) { @if let Some(label) = self.label(ask, field) { (label) ": " } (self.told(wrong)) },
                                    None => (self.told(wrong)),
                                }
                            }
                        }
                    }
                }
            }
        }
    }

    /// What people call a field, with its product where there are several of it.
    fn label(&self, ask: &Ask, field: &str) -> Option<String> {
        let words = self.words;
        let of_product = |label: &str, at: &str| {
            let product = ask.products.get(at.parse::<usize>().ok()?)?;
            Some(format!("{}, {label}", product.name))
        };
        if let Some(at) = field.strip_prefix("litres_") {
            return of_product(words.litres, at);
        }
        if let Some(at) = field.strip_prefix("gallons_") {
            return of_product(words.gallons, at);
        }
        if let Some(at) = field.strip_prefix("batch_") {
            return of_product(words.batch, at);
        }
        if let Some(at) = field.strip_prefix("expires_on_") {
            return of_product(words.expires_on, at);
        }
        if let Some(film) = ask.films.iter().find(|film| film.field() == field) {
            return Some(format!("{}: {}", words.dried, film.name));
        }
        if let Some(stage) = field.strip_prefix("hours_") {
            let at = STAGES.iter().position(|name| *name == stage)?;
            return words.stages.get(at).map(|label| (*label).to_owned());
        }
        let label = match field {
            "started_at" => words.begun,
            "finished_at" => words.done,
            "area_m2" => words.area,
            "area_ft2" => words.area_us,
            "seal_coats" => words.seal_coats,
            "polish_coats" => words.polish_coats,
            "surface_ph" => words.surface_ph,
            "operative_ref" => words.operative_ref,
            "note" => words.note,
            _ => return None,
        };
        Some(label.to_owned())
    }

    fn told(&self, wrong: &Wrong) -> String {
        self.words.fault(wrong.code, &wrong.told)
    }

    fn field(&self, field: &Field<'_>) -> Markup {
        let name = field.name;
        let of_field = |wrong: &&Wrong| wrong.field.as_deref() == Some(name);
        let wrong: Vec<&Wrong> = self.wrong.iter().filter(of_field).collect();
        let (hint, fault) = (format!("{name}-hint"), format!("{name}-wrong"));
        let beside: Vec<&str> = [
            field.hint.as_ref().map(|_| hint.as_str()),
            (!wrong.is_empty()).then_some(fault.as_str()),
        ]
        .into_iter()
        .flatten()
        .collect();
        let beside = (!beside.is_empty()).then(|| beside.join(" "));
        let invalid = (!wrong.is_empty()).then_some("true");
        let value = self.filled.get(name);
        html! {
            label for=(name) { (field.label) }
            @if let Some(text) = &field.hint { p.hint #(hint) { (text) } }
            @if !wrong.is_empty() { p.wrong #(fault) { @for wrong in wrong { "→ " (self.told(wrong)) " " } } }
            @if field.kind == "area" {
                textarea #(name) name=(name) rows="4" maxlength="2000" aria-describedby=[beside] aria-invalid=[invalid] { (value) }
            } @else {
                input #(name) name=(name) type=(field.kind) inputmode=(field.keys) value=(value) maxlength="100" autocomplete="off" aria-describedby=[beside] aria-invalid=[invalid];
            }
        }
    }
}
