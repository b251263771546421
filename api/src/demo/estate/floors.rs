//! The floors of the estate, one a line.

use super::Floor;

const LOWER: &str = "Lower Ground";
const GROUND: &str = "Ground Floor";
const FIRST: &str = "First Floor";
const CELLAR: &str = "Untergeschoss";
const STREET: &str = "Erdgeschoss";
const UPPER: &str = "Obergeschoss";

/// The school.
#[rustfmt::skip]
pub(in crate::demo) const TARNFIELD_FLOORS: &[Floor] = &[
    Floor::new("T-L01", (LOWER, "Boiler house"), "concrete_bare", (62.5, 33.2)).built(2006).bare().used("very_light", "heavy", "medium").moist(58.0),
    Floor::new("T-L02", (LOWER, "Caretaker's store"), "concrete_sealed", (48.0, 28.4)).built(2006).film("seal", 0, "sound").used("light", "normal", "medium").moist(58.0),
    Floor::new("T-L03", (LOWER, "Changing rooms"), "ceramic_tile", (71.2, 44.0)).built(2006).bare().used("medium", "normal", "light").wet(38.0),
    Floor::new("T-G01", (GROUND, "Entrance hall"), "vinyl_sheet", (148.0, 52.6)).built(2006).space("hall").film("seal_and_polish", 4, "soiled").used("very_heavy", "heavy", "open"),
    Floor::new("T-G02", (GROUND, "Main corridor"), "vinyl_sheet", (214.6, 168.4)).built(2006).space("corridor").film("polish", 4, "soiled").used("heavy", "heavy", "open").closed_at_night("18:00", "06:00").served(9.0, "foul_drain"),
    Floor::new("T-G03", (GROUND, "Dining hall"), "vinyl_composition_tile", (186.0, 56.0)).built(2006).space("hall").film("polish", 5, "worn").used("heavy", "heavy", "medium"),
    KITCHEN,
    Floor::new("T-G05", (GROUND, "Reception office"), "vinyl_sheet_factory_finished", (24.8, 20.2)).built(2006).film("factory_finish", 0, "sound").used("light", "light", "medium").by_its_maker("Maintenance card 12 in the handover file", 10.0),
    Floor::new("T-G06", (GROUND, "Pupils' toilets"), "ceramic_tile", (27.3, 31.6)).built(2006).bare().used("heavy", "heavy", "light").wet(37.0),
    Floor::new("T-G07", (GROUND, "Classroom 1"), "vinyl_sheet", (61.2, 31.4)).built(2006).film("polish", 3, "sound").used("medium", "normal", "medium").gloss_lost(28.0),
    Floor::new("T-G08", (GROUND, "Classroom 2"), "vinyl_sheet", (60.8, 31.2)).built(2006).film("polish", 3, "soiled").used("medium", "normal", "medium"),
    Floor::new("T-G09", (GROUND, "Art room"), "vinyl_composition_tile", (66.0, 33.0)).built(2006).film("polish", 6, "yellowed").used("medium", "heavy", "medium"),
    Floor::new("T-101", (FIRST, "Upper corridor"), "vinyl_sheet", (168.2, 142.0)).built(2006).space("corridor").film("seal_and_polish", 3, "soiled").used("heavy", "normal", "open"),
    Floor::new("T-102", (FIRST, "Classroom 5"), "vinyl_composition_tile", (59.6, 31.0)).built(2006).film("polish", 4, "soiled").used("medium", "normal", "medium"),
    Floor::new("T-103", (FIRST, "Classroom 6"), "vinyl_composition_tile", (59.6, 31.0)).built(2006).film("polish", 7, "yellowed").used("medium", "normal", "medium"),
    Floor::new("T-104", (FIRST, "Science room"), "safety_vinyl", (72.5, 35.0)).built(2006).bare().used("medium", "heavy", "heavy").wet(40.0),
    Floor::new("T-105", (FIRST, "Library"), "vinyl_sheet_factory_finished", (84.0, 37.8)).built(2006).film("factory_finish", 0, "sound").used("light", "light", "heavy"),
    Floor::new("T-106", (FIRST, "Staff room"), "vinyl_sheet", (38.2, 25.0)).built(2006).film("seal", 0, "soiled").used("light", "normal", "medium"),
    MUSIC_ROOM,
];

/// The kitchen of the school: a floor that must not be polished.
pub(in crate::demo) const KITCHEN: Floor =
    Floor::new("T-G04", (GROUND, "Kitchen"), "safety_vinyl", (58.4, 34.0))
        .built(2006)
        .bare()
        .used("medium", "heavy", "medium")
        .wet(41.0);

/// A room in the school's old wing: nobody knows what lies on its floor or whether it holds asbestos.
pub(in crate::demo) const MUSIC_ROOM: Floor = Floor::new(
    "T-107",
    (FIRST, "Music room, old wing"),
    "vinyl_composition_tile",
    (53.0, 29.4),
)
.built(1968)
.used("light", "normal", "light");

/// A floor that is registered while the demonstration runs.
pub(in crate::demo) const ASSEMBLY_HALL: Floor = Floor::new(
    "T-G10",
    (GROUND, "Assembly hall"),
    "vinyl_sheet",
    (236.5, 62.4),
)
.built(2006)
.space("hall")
.film("seal_and_polish", 6, "yellowed")
.used("heavy", "normal", "light");

/// The clinic.
#[rustfmt::skip]
pub(in crate::demo) const QUENDELFURT_FLOORS: &[Floor] = &[
    Floor::new("Q-U1", (CELLAR, "Archive"), "unknown_hard", (44.0, 27.0)).built(2011).used("very_light", "light", "heavy"),
    Floor::new("Q-U2", (CELLAR, "Plant room"), "concrete_bare", (85.3, 38.6)).built(2011).bare().used("very_light", "normal", "medium").moist(58.0),
    Floor::new("Q-U3", (CELLAR, "Delivery passage"), "concrete_sealed", (66.0, 52.0)).built(2011).space("corridor").film("seal", 0, "worn").used("medium", "heavy", "open").moist(58.0),
    Floor::new("Q-E1", (STREET, "Foyer"), "ceramic_tile", (122.4, 48.0)).built(2011).space("hall").bare().used("heavy", "heavy", "light").wet(39.0),
    Floor::new("Q-E2", (STREET, "Waiting area"), "vinyl_sheet", (74.3, 35.2)).built(2011).film("polish", 3, "sound").used("medium", "normal", "medium").gloss_lost(22.0),
    Floor::new("Q-E3", (STREET, "Treatment room 1"), "vinyl_sheet_factory_finished", (22.6, 19.1)).built(2011).film("factory_finish", 0, "sound").used("light", "normal", "medium").by_its_maker("Care guide for coated sheet flooring, edition 4, section 3", 10.0),
    Floor::new("Q-E4", (STREET, "Treatment room 2"), "vinyl_sheet_factory_finished", (23.1, 19.4)).built(2011).film("factory_finish", 0, "sound").used("light", "normal", "medium"),
    Floor::new("Q-E5", (STREET, "East corridor"), "vinyl_sheet", (118.7, 96.0)).built(2011).space("corridor").film("seal_and_polish", 4, "soiled").used("heavy", "heavy", "open").closed_at_night("21:00", "05:00").served(22.0, "collect"),
    Floor::new("Q-E6", (STREET, "Bathing room"), "safety_vinyl", (19.4, 17.8)).built(2011).bare().used("light", "normal", "medium").wet(43.0),
    Floor::new("Q-O1", (UPPER, "Ward corridor"), "vinyl_composition_tile", (131.0, 104.0)).built(2011).space("corridor").film("polish", 5, "yellowed").used("medium", "heavy", "open").closed_at_night("19:30", "05:30").served(14.0, "foul_drain"),
    Floor::new("Q-O2", (UPPER, "Therapy hall"), "vinyl_composition_tile", (96.5, 40.0)).built(2011).space("hall").film("polish", 3, "soiled").used("medium", "normal", "light"),
    Floor::new("Q-O3", (UPPER, "Staff kitchen"), "safety_vinyl", (14.2, 15.2)).built(2011).bare().used("light", "heavy", "medium").wet(42.0),
    Floor::new("Q-O4", (UPPER, "Offices"), "vinyl_sheet", (52.3, 29.0)).built(2011).film("polish", 2, "sound").used("light", "light", "heavy"),
];
