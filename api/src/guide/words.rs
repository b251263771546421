//! The words of the API that a developer who has never cared for a floor needs.

/// Each word with what it means here, in the order in which an integrator meets them.
pub(super) const WORDS: &[(&str, &str)] = &[
    (
        "site",
        "A place with a time zone, a currency and a rate card. Every floor belongs to one.",
    ),
    (
        "surface",
        "One continuous floor of one material on one storey: what is planned, treated and paid for. Rooms become surfaces.",
    ),
    (
        "finish",
        "The floor's material as people write it (“VCT”, “terrazzo”); it is read into a material, or asked for.",
    ),
    (
        "survey",
        "What is known of a surface: material, area, what lies on it, its traffic and soil, what stands in the way, what its maker says.",
    ),
    (
        "film",
        "What lies on the floor to take the wear: polish in coats, a seal, an impregnation, or nothing. It has a condition and a past.",
    ),
    (
        "coat",
        "One layer of polish or seal, laid at once and dried before the next.",
    ),
    (
        "wish",
        "What is asked for: a goal (restore, protect, maintain) or a process by its key, with limits.",
    ),
    (
        "process",
        "A way to treat a floor, made of steps: to strip and refinish, to scrub and recoat, to burnish, to damp-mop.",
    ),
    (
        "plan",
        "The answer for one floor and one wish: verdict, reasons, steps, quantities, waits, money. It is proposed, accepted, superseded or withdrawn.",
    ),
    (
        "verdict",
        "`allowed`, `allowed_with_warnings`, `needs_information` or `refused`. All four are answers, not errors.",
    ),
    (
        "finding",
        "A rule that fired for this plan, with how grave it is, why it holds, its source, and what would clear it.",
    ),
    (
        "question",
        "A missing fact that could change the verdict or the price, with how to find it out and what each answer leads to.",
    ),
    (
        "basis",
        "Why a number is what it is: formula, inputs with units, rounding, source, and how far that can be trusted.",
    ),
    (
        "grade",
        "How good a source is: from a published standard down to memory that nobody has verified.",
    ),
    (
        "hold point",
        "A reading without which work does not go on, such as the pH of a rinsed floor.",
    ),
    (
        "wait",
        "Time between two events (coat to coat, to foot traffic), never below the label, longer in cold or damp air.",
    ),
    (
        "window",
        "Hours in which a floor may be closed. Work that does not fit one is spread over several, by bays.",
    ),
    (
        "bay",
        "A part of a floor that is treated in one go, so small that solution and coat edge stay wet.",
    ),
    (
        "rate card",
        "What an hour, a litre and a pad cost at a site, from which day on, and the site's own working rates.",
    ),
    (
        "estimate",
        "Many plans bought together: packs for all of them, set-up once a shift.",
    ),
    (
        "outlook",
        "How hours, litres, price and time may turn out: no more than P50 in half of all cases, P80 in four of five, P90 in nine of ten. Percentiles do not add up.",
    ),
    (
        "schedule",
        "Which bay is treated when and by whom, so that work fits the windows, crews and machines there are.",
    ),
    (
        "completion",
        "Work that was done, as whoever did it says. It changes the film, and money is set against its plan.",
    ),
    (
        "deviation",
        "Where a completion differs from its plan. Somebody with the scope for it acknowledges it, with a reason.",
    ),
    (
        "reading",
        "A measured value (gloss, pH, slip, moisture, footfall). A wrong one is superseded, never edited.",
    ),
    (
        "due",
        "When a process should come again on a floor, by what was done, its interval and its film.",
    ),
    (
        "contractor source",
        "The address and secret by which a contractor's own system reports, signed.",
    ),
    (
        "subscription",
        "Your address for events, with its secret, types and filters.",
    ),
    (
        "tenant",
        "Whose records these are. A token belongs to one and sees nothing of others.",
    ),
];
