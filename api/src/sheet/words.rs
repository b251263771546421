//! The sheet's own words, in each language that it speaks. What the knowledge base says is not translated.

mod form;

pub(super) use form::FormWords;

use super::measure::Units;

/// A language of the sheet.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Language {
    /// English.
    English,
    /// German.
    German,
}

impl Language {
    /// Its tag by BCP 47.
    pub(crate) const fn tag(self) -> &'static str {
        match self {
            Self::English => "en",
            Self::German => "de",
        }
    }

    pub(super) const fn words(self) -> &'static Words {
        match self {
            Self::English => &ENGLISH,
            Self::German => &GERMAN,
        }
    }

    /// The language that a tag names; English for any that is not spoken.
    pub(crate) fn of(tag: &str) -> Self {
        match tag {
            "de" => Self::German,
            _ => Self::English,
        }
    }

    /// How a day is written (`chrono`'s format).
    pub(super) const fn day(self) -> &'static str {
        match self {
            Self::English => "%d %b %Y",
            Self::German => "%d.%m.%Y",
        }
    }

    pub(super) const fn form_words(self) -> &'static FormWords {
        match self {
            Self::English => &form::ENGLISH,
            Self::German => &form::GERMAN,
        }
    }

    /// What a printed page says where so many of its letters could not be printed; `address` is where it can be read.
    pub(crate) fn unprinted(self, n: usize, address: &str) -> String {
        let told = match (self, n) {
            (Self::English, 1) => "letter could not be printed (\u{fffd}). Read the page at",
            (Self::English, _) => "letters could not be printed (\u{fffd}). Read the page at",
            (Self::German, _) => {
                "Zeichen konnten nicht gedruckt werden (\u{fffd}). Die Seite ist zu lesen unter"
            }
        };
        format!("{n} {told} {address}")
    }

    /// How a clock time with its day is written (`chrono`'s format).
    pub(crate) const fn moment(self, units: Units) -> &'static str {
        match (self, units) {
            (Self::English, Units::Us) => "%a %m/%d/%Y %I:%M %p",
            (Self::English, Units::Metric) => "%a %d %b %Y %H:%M",
            (Self::German, _) => "%d.%m.%Y %H:%M",
        }
    }
}

/// Every word of a sheet.
#[derive(Debug)]
pub(super) struct Words {
    pub(super) job_sheet: &'static str,
    pub(super) floor: &'static str,
    pub(super) storey: &'static str,
    pub(super) area: &'static str,
    pub(super) crew: &'static str,
    pub(super) plan: &'static str,
    pub(super) not_accepted: &'static str,
    pub(super) no_work: &'static str,
    pub(super) instead: &'static str,
    pub(super) meanwhile: &'static str,
    pub(super) refer: &'static str,
    pub(super) to_find_out: &'static str,
    pub(super) before_start: &'static str,
    pub(super) mind: &'static str,
    pub(super) wear: &'static str,
    pub(super) bring: &'static str,
    pub(super) product: &'static str,
    pub(super) amount: &'static str,
    pub(super) packs: &'static str,
    pub(super) pads: &'static str,
    pub(super) water: &'static str,
    pub(super) clean_water: &'static str,
    pub(super) for_dilution: &'static str,
    pub(super) slurry: &'static str,
    pub(super) when: &'static str,
    pub(super) after_closing: &'static str,
    pub(super) half_of_cases: &'static str,
    pub(super) clock: &'static str,
    pub(super) night: &'static str,
    pub(super) open_after: &'static str,
    pub(super) steps: &'static str,
    pub(super) with: &'static str,
    pub(super) pad: &'static str,
    pub(super) parts: &'static str,
    pub(super) undiluted: &'static str,
    pub(super) bucket: &'static str,
    pub(super) in_all: &'static str,
    pub(super) works_for: &'static str,
    pub(super) coat: &'static str,
    pub(super) of: &'static str,
    pub(super) along: &'static str,
    pub(super) across: &'static str,
    pub(super) stop_short: &'static str,
    pub(super) to_skirting: &'static str,
    pub(super) wait: &'static str,
    pub(super) labour: &'static str,
    pub(super) hold_before: &'static str,
    pub(super) hold_after: &'static str,
    pub(super) limits: &'static str,
    pub(super) read: &'static str,
    pub(super) if_not: &'static str,
    pub(super) bays: &'static str,
    pub(super) bays_order: &'static str,
    pub(super) largest_bay: &'static str,
    pub(super) exit: &'static str,
    pub(super) gap: &'static str,
    pub(super) working: &'static str,
    pub(super) waiting: &'static str,
    pub(super) last_work: &'static str,
    pub(super) reopened: &'static str,
    pub(super) report: &'static str,
    pub(super) report_by: &'static str,
    pub(super) hand_over: &'static str,
    pub(super) sample: &'static str,
    pub(super) goes_wrong: &'static str,
    pub(super) seen: &'static str,
    pub(super) from_what: &'static str,
    pub(super) remedy: &'static str,
    pub(super) call: &'static str,
    pub(super) supervisor: &'static str,
    pub(super) emergency: &'static str,
    pub(super) building: &'static str,
    pub(super) sign_off: &'static str,
    pub(super) begun: &'static str,
    pub(super) done: &'static str,
    pub(super) batches: &'static str,
    pub(super) signature: &'static str,
    pub(super) first: &'static str,
}

static ENGLISH: Words = Words {
    job_sheet: "Job sheet",
    floor: "Floor",
    storey: "Storey",
    area: "Area",
    crew: "Crew",
    plan: "Plan",
    not_accepted: "This plan is not accepted. Do not start before it is.",
    no_work: "No work is planned on this floor.",
    instead: "What may be done instead",
    meanwhile: "What may be done in the meantime",
    refer: "Who takes over, and what they need to know",
    to_find_out: "To find out first",
    before_start: "Before you start",
    mind: "Mind",
    wear: "Wear",
    bring: "Bring",
    product: "Product",
    amount: "Amount, losses included",
    packs: "Packs",
    pads: "Pads",
    water: "Water",
    clean_water: "clean, to rinse and mop",
    for_dilution: "to dilute",
    slurry: "dirty water to take away",
    when: "When",
    after_closing: "after closing",
    half_of_cases: "at the earliest, or in half of the cases",
    clock: "by the clock",
    night: "Window",
    open_after: "open after",
    steps: "Steps",
    with: "With",
    pad: "pad",
    parts: "parts of product to parts of water",
    undiluted: "undiluted",
    bucket: "for one bucket",
    in_all: "in all",
    works_for: "Let it work",
    coat: "Coat",
    of: "of",
    along: "along the room",
    across: "across the room, at a right angle to the coat before",
    stop_short: "stop short of the skirting by",
    to_skirting: "right up to the skirting",
    wait: "Wait",
    labour: "Work, all together",
    hold_before: "Do not begin until",
    hold_after: "Do not go on until",
    limits: "limits",
    read: "read",
    if_not: "If not",
    bays: "Bays",
    bays_order: "Treat the bays in the order of their numbers: the way out stays open.",
    largest_bay: "largest bay",
    exit: "way out",
    gap: "grey: the edge that early coats leave out, by",
    working: "work and the waits within it",
    waiting: "nobody on the floor",
    last_work: "work done after",
    reopened: "open after",
    report: "Report the work",
    report_by: "When the work is done, open this address with a phone and report it.",
    hand_over: "Before you hand over",
    sample: "Look at {sample} of {cells} squares of {cell}, entrances among them; pass with at most {accept} that fail.",
    goes_wrong: "If something goes wrong",
    seen: "What you see",
    from_what: "What it comes from",
    remedy: "What helps",
    call: "Who to call",
    supervisor: "Supervisor",
    emergency: "Emergency, poison line",
    building: "Building, keys, power",
    sign_off: "Sign-off",
    begun: "Begun (date, time)",
    done: "Done (date, time)",
    batches: "Batch and expiry of each product",
    signature: "Operative's reference and signature",
    first: "Product label, safety data sheet, the floor maker's instruction, local rules and a competent person come before this sheet.",
};

static GERMAN: Words = Words {
    job_sheet: "Arbeitsblatt",
    floor: "Boden",
    storey: "Geschoss",
    area: "Fläche",
    crew: "Personen",
    plan: "Plan",
    not_accepted: "Dieser Plan ist nicht freigegeben. Nicht vorher anfangen.",
    no_work: "Auf diesem Boden ist keine Arbeit geplant.",
    instead: "Was stattdessen möglich ist",
    meanwhile: "Was bis dahin möglich ist",
    refer: "Wer übernimmt, und was er wissen muss",
    to_find_out: "Zuerst herausfinden",
    before_start: "Vor dem Beginn",
    mind: "Achtung",
    wear: "Anziehen",
    bring: "Mitbringen",
    product: "Mittel",
    amount: "Menge mit Verlusten",
    packs: "Gebinde",
    pads: "Pads",
    water: "Wasser",
    clean_water: "sauber, zum Spülen und Wischen",
    for_dilution: "zum Verdünnen",
    slurry: "Schmutzwasser zum Entsorgen",
    when: "Wann",
    after_closing: "nach dem Sperren",
    half_of_cases: "frühestens oder in der Hälfte der Fälle",
    clock: "Uhrzeit",
    night: "Fenster",
    open_after: "offen nach",
    steps: "Schritte",
    with: "Mit",
    pad: "Pad",
    parts: "Teile Mittel zu Teilen Wasser",
    undiluted: "unverdünnt",
    bucket: "für einen Eimer",
    in_all: "insgesamt",
    works_for: "Einwirken lassen",
    coat: "Auftrag",
    of: "von",
    along: "längs zum Raum",
    across: "quer zum Raum, im rechten Winkel zum Auftrag davor",
    stop_short: "Abstand zur Fußleiste",
    to_skirting: "bis an die Fußleiste",
    wait: "Warten",
    labour: "Arbeit aller zusammen",
    hold_before: "Nicht beginnen, bevor gilt",
    hold_after: "Nicht weiterarbeiten, bevor gilt",
    limits: "Grenzen",
    read: "gemessen",
    if_not: "Wenn nicht",
    bays: "Felder",
    bays_order: "Felder in der Reihenfolge ihrer Nummern bearbeiten: der Ausgang bleibt frei.",
    largest_bay: "größtes Feld",
    exit: "Ausgang",
    gap: "grau: der Rand, den frühe Aufträge auslassen, mit",
    working: "Arbeit und Wartezeiten dabei",
    waiting: "niemand auf dem Boden",
    last_work: "Arbeit fertig nach",
    reopened: "offen nach",
    report: "Arbeit melden",
    report_by: "Nach der Arbeit diese Adresse mit dem Telefon öffnen und melden.",
    hand_over: "Vor der Übergabe",
    sample: "{sample} von {cells} Quadraten zu {cell} ansehen, Eingänge darunter; bestanden mit höchstens {accept} fehlerhaften.",
    goes_wrong: "Wenn etwas misslingt",
    seen: "Was man sieht",
    from_what: "Woher es kommt",
    remedy: "Was hilft",
    call: "Wen anrufen",
    supervisor: "Vorarbeiter",
    emergency: "Notruf, Giftnotruf",
    building: "Gebäude, Schlüssel, Strom",
    sign_off: "Abnahme",
    begun: "Begonnen (Datum, Uhrzeit)",
    done: "Beendet (Datum, Uhrzeit)",
    batches: "Charge und Ablaufdatum jedes Mittels",
    signature: "Kennung und Unterschrift",
    first: "Etikett, Sicherheitsdatenblatt, Vorschrift des Bodenherstellers, örtliche Regeln und eine sachkundige Person gehen diesem Blatt vor.",
};
