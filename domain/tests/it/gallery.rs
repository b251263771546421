//! Twelve plans as text, one for each sort of floor that is worked in another way: read by people, held as they were
//! read. `WEARCOURSE_TEST_REWRITE=1` writes them anew; a change of them is looked at by somebody who knows floors.

#![expect(
    clippy::expect_used,
    reason = "a picture that cannot be read or written must stop the test"
)]

mod page;

use std::{env, fs, path::PathBuf};

use domain::{
    geometry::{Outline, Point},
    plan::{PlanInput, draft_plan, lead_on},
    quantity::Area,
    stock::Stock,
    survey::{
        Asbestos, Climate, Film, FilmCondition, FilmKind, Goal, Limits, Obstruction, Soil, Space,
        Survey, Traffic, Wish,
    },
};

use crate::{
    common::{base, climate, now},
    floors::{card, named},
};

/// A floor of the gallery, and what is wished for it.
struct Piece {
    name: &'static str,
    told: &'static str,
    survey: Survey,
    wish: Wish,
    air: Climate,
}

fn piece(name: &'static str, told: &'static str, survey: Survey, wish: Wish) -> Piece {
    Piece {
        name,
        told,
        survey,
        wish,
        air: climate(),
    }
}

fn floor(material: &str, m2: i64, space: Space, traffic: Traffic) -> Survey {
    Survey {
        space: Some(space),
        traffic: Some(traffic),
        built_year: Some(2012),
        occupied: false,
        obstruction: Some(Obstruction::Light),
        soil: Some(Soil::Normal),
        ..Survey::new(material, Area::from_mm2(m2 * 1_000_000))
    }
}

fn film(kind: FilmKind, coats: i64, condition: FilmCondition) -> Film {
    Film {
        kind: Some(kind),
        coats: Some(coats),
        condition: Some(condition),
    }
}

/// An L of 12 m by 10 m whose inner corner is cut away: 84 m².
fn l_shape() -> Outline {
    let ring = [
        (0.0, 0.0),
        (12.0, 0.0),
        (12.0, 4.0),
        (6.0, 4.0),
        (6.0, 10.0),
        (0.0, 10.0),
    ];
    let ring = ring.map(|(x, y)| Point::new(x, y));
    Outline::new(&[ring.to_vec()]).expect("an outline")
}

fn resilient() -> [Piece; 5] {
    let polish = |coats, condition| film(FilmKind::Polish, coats, condition);
    [
        piece(
            "01-composition-tile-corridor",
            "School corridor, 30 m by 8 m, six coats of polish worn through in the walk lines; to be restored by two \
             operatives in nights of eight hours.",
            Survey {
                film: polish(6, FilmCondition::Worn),
                ..floor(
                    "vinyl_composition_tile",
                    240,
                    Space::Corridor,
                    Traffic::Heavy,
                )
            },
            Wish {
                limits: Limits {
                    crew_size: Some(2),
                    window_min: Some(480),
                    ..Limits::default()
                },
                ..Wish::to(Goal::Restore)
            },
        ),
        piece(
            "02-linoleum-classroom",
            "Classroom of linoleum, L-shaped with one door, two coats of polish scuffed; to be maintained.",
            Survey {
                outline: Some(l_shape()),
                doors: vec![Point::new(0.0, 5.0)],
                film: polish(2, FilmCondition::Scuffed),
                ..floor("linoleum", 84, Space::Room, Traffic::Medium)
            },
            Wish::to(Goal::Maintain),
        ),
        piece(
            "03-factory-finished-ward",
            "Hospital ward of vinyl sheet with a factory finish, people in; to be cleaned.",
            Survey {
                occupied: true,
                film: film(FilmKind::FactoryFinish, 0, FilmCondition::Sound),
                ..floor(
                    "vinyl_sheet_factory_finished",
                    120,
                    Space::Room,
                    Traffic::Medium,
                )
            },
            Wish::to(Goal::Clean),
        ),
        piece(
            "04-safety-vinyl-changing-room",
            "Changing room of safety vinyl, wet in use, heavy soil in its grain and a wet pendulum value of 30; to be \
             made safe.",
            Survey {
                wet_in_use: true,
                soil: Some(Soil::Heavy),
                ptv_wet: Some(30.0),
                film: film(FilmKind::Bare, 0, FilmCondition::Sound),
                ..floor("safety_vinyl", 60, Space::Room, Traffic::Heavy)
            },
            Wish::to(Goal::MakeSafe),
        ),
        piece(
            "05-old-tile-of-unknown-content",
            "Store of vinyl composition tile of 1968 that nobody has tested, its polish yellowed; to be restored.",
            Survey {
                built_year: Some(1968),
                asbestos: Asbestos::Untested,
                film: polish(8, FilmCondition::Yellowed),
                ..floor("vinyl_composition_tile", 90, Space::Room, Traffic::Light)
            },
            Wish::to(Goal::Restore),
        ),
    ]
}

fn hard() -> [Piece; 4] {
    let bare = film(FilmKind::Bare, 0, FilmCondition::Soiled);
    [
        piece(
            "06-quarry-tile-kitchen",
            "Kitchen of quarry tile, greasy, wet in use; to be restored.",
            Survey {
                wet_in_use: true,
                soil: Some(Soil::Heavy),
                film: bare,
                ..floor("quarry_tile", 45, Space::Room, Traffic::Heavy)
            },
            Wish::to(Goal::Restore),
        ),
        piece(
            "07-marble-lobby",
            "Lobby of polished marble that has lost nearly half of its gloss in the lanes; to be restored.",
            Survey {
                gloss_loss_pct: Some(45.0),
                film: film(FilmKind::Bare, 0, FilmCondition::Scuffed),
                ..floor("marble", 150, Space::Hall, Traffic::Heavy)
            },
            Wish::to(Goal::Restore),
        ),
        piece(
            "08-terrazzo-hall",
            "Entrance hall of cement terrazzo, bare and clean; to be protected.",
            Survey {
                film: film(FilmKind::Bare, 0, FilmCondition::Sound),
                ..floor("terrazzo_cement", 200, Space::Hall, Traffic::VeryHeavy)
            },
            Wish::to(Goal::Protect),
        ),
        Piece {
            air: Climate {
                air_c: 14.0,
                floor_c: 12.0,
                humidity_pct: 70.0,
                ..climate()
            },
            ..piece(
                "09-concrete-slab-in-a-cold-store",
                "Bare concrete slab of a store, 75 % RH in the slab, 14 °C and 70 % in the air; to be sealed.",
                Survey {
                    moisture_rh_pct: Some(75.0),
                    film: film(FilmKind::Bare, 0, FilmCondition::Sound),
                    ..floor("concrete_bare", 300, Space::Hall, Traffic::Heavy)
                },
                named("seal", Goal::Protect, Limits::default()),
            )
        },
    ]
}

fn others() -> [Piece; 3] {
    [
        piece(
            "10-hardwood-hall",
            "Village hall of hardwood, its lacquer worn through; to be restored.",
            Survey {
                film: film(FilmKind::Seal, 2, FilmCondition::Worn),
                ..floor("hardwood", 110, Space::Hall, Traffic::Medium)
            },
            Wish::to(Goal::Restore),
        ),
        piece(
            "11-epoxy-workshop",
            "Workshop of epoxy with oily soil; to be cleaned.",
            Survey {
                soil: Some(Soil::Heavy),
                film: film(FilmKind::Bare, 0, FilmCondition::Soiled),
                ..floor("epoxy", 400, Space::Hall, Traffic::Heavy)
            },
            Wish::to(Goal::Clean),
        ),
        piece(
            "12-nobody-knows",
            "A hard floor of which nobody knows what it is or what lies on it; to be restored.",
            Survey {
                built_year: None,
                film: Film::default(),
                ..floor("unknown_hard", 35, Space::Room, Traffic::Medium)
            },
            Wish::to(Goal::Restore),
        ),
    ]
}

fn drawn(piece: &Piece) -> String {
    let card = card("GBP");
    let input = PlanInput {
        survey: &piece.survey,
        wish: &piece.wish,
        climate: &piece.air,
        card: &card,
        country: "GB",
        base: base(),
        own_products: &[],
        stock: Stock::NONE,
        climate_assumed: false,
        now: now(),
        zone: chrono_tz::Tz::UTC,
    };
    let plan = draft_plan(&input).expect("an answer");
    let plan = lead_on(&input, plan).expect("answers");
    page::page(piece.told, &plan)
}

#[test]
#[expect(
    clippy::disallowed_methods,
    reason = "a test is told on the command line to write its pages anew"
)]
fn the_gallery_hangs_as_it_was_read() {
    let folder = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("../tests/fixtures/gallery");
    let pieces: Vec<Piece> = resilient()
        .into_iter()
        .chain(hard())
        .chain(others())
        .collect();
    let rewrite = env::var_os("WEARCOURSE_TEST_REWRITE").is_some();
    let mut other = Vec::new();
    for piece in &pieces {
        let path = folder.join(piece.name).with_extension("txt");
        let now = drawn(piece);
        if rewrite {
            fs::write(&path, &now).expect("written");
        }
        let held = fs::read_to_string(&path).unwrap_or_default();
        if held != now {
            other.push(piece.name);
        }
    }
    let hung = fs::read_dir(&folder).expect("a folder").count();
    assert_eq!(hung, pieces.len(), "the folder holds other pages too");
    assert_eq!(other, Vec::<&str>::new(), "read again, then written anew");
}
