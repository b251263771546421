//! The hours in which floors may be closed: through changes of the clock, and from calendars that others keep.

use chrono::{DateTime, Duration, Utc};
use serde_json::{Value, json};
use tests::{
    app::TestApp,
    build::{new_schedule, with},
    read,
};

use super::{asked, corridor, floor, in_a_night, moment, tasks};

#[tokio::test]
async fn a_night_in_which_the_clock_is_changed_is_as_long_as_it_is() {
    let app = TestApp::start().await;
    let admin = app.admin();
    // Sunday, 25 October 2026, 02:00 BST: the clock goes back to 01:00 GMT.
    let saturday =
        json!({"access_windows": [{"days": ["saturday"], "from": "22:00", "to": "06:00"}]});
    let (site, _, plan) = corridor(&admin, saturday).await;
    let late = json!({
        "from": "2026-10-19T12:00:00Z", "to": "2026-11-30T12:00:00Z",
        "crews": [{"name": "Weekend", "operatives": 2, "shifts": [{"days": ["saturday"], "from": "22:00", "to": "06:00"}]}],
    });
    let body = with(asked(&site, &[&plan], "2026-11-30T12:00:00Z"), late);
    let told = new_schedule(&admin, &body).await;
    assert_eq!(told["result"]["outcome"], "scheduled", "{told:#}");
    let nights = tasks(&admin, &told).await;
    let first = moment(&nights[0], "/from");
    // Half the crew's half hour of setting up, with the allowance, rounded up.
    let opens: DateTime<Utc> = "2026-10-24T21:00:00Z".parse().unwrap();
    assert_eq!(first, opens + Duration::minutes(17));
    let closes: DateTime<Utc> = "2026-10-25T06:00:00Z".parse().unwrap();
    let of_night: Vec<&Value> = nights
        .iter()
        .filter(|task| moment(task, "/from") < closes)
        .collect();
    let last = of_night
        .iter()
        .filter_map(|task| task.get("walk_at"))
        .map(|at| at.as_str().unwrap().parse::<DateTime<Utc>>().unwrap())
        .max()
        .unwrap();
    assert!(last <= closes);
    // Nine hours, of which the ninth is used: eight from its beginning are not enough.
    assert!(last > opens + Duration::hours(8), "{last}");
}

#[tokio::test]
async fn closing_hours_are_read_from_a_calendar_and_its_faults_are_told_with_their_lines() {
    let app = TestApp::start().await;
    let admin = app.admin();
    // Nobody may close the corridor but on the days of the calendar.
    let never = json!([{"days": ["sunday"], "from": "03:00", "to": "03:30"}]);
    let (site, surface, plan) = corridor(&admin, json!({})).await;
    let own = json!({"surface_id": surface, "access_windows": never});
    let holidays = "BEGIN:VCALENDAR\r\nBEGIN:VEVENT\r\nSUMMARY:School is closed\r\n\
        DTSTART;TZID=Europe/London:20260602T180000\r\nDTEND;TZID=Europe/London:20260603T060000\r\n\
        RRULE:FREQ=DAILY;COUNT=4\r\nEXDATE;TZID=Europe/London:20260603T180000\r\nEND:VEVENT\r\nEND:VCALENDAR\r\n";
    let body = with(
        asked(&site, &[&plan], "2026-06-12T12:00:00Z"),
        json!({"open_calendar": holidays, "surfaces": [own]}),
    );
    let told = new_schedule(&admin, &body).await;
    assert_eq!(told["result"]["outcome"], "scheduled", "{told:#}");
    for task in tasks(&admin, &told).await {
        let evening = (moment(&task, "/from") - Duration::hours(17))
            .date_naive()
            .to_string();
        assert!(
            ["2026-06-02", "2026-06-04", "2026-06-05"].contains(&evening.as_str()),
            "{task}"
        );
        assert!(
            in_a_night(moment(&task, "/from"), moment(&task, "/to")),
            "{task}"
        );
    }
    // Guests on all of these evenings leave nothing.
    let guests = holidays.replace("EXDATE;TZID=Europe/London:20260603T180000\r\n", "");
    let own = with(own, json!({"closed_calendar": guests}));
    let told = new_schedule(&admin, &with(body.clone(), json!({"surfaces": [own]}))).await;
    assert_eq!(told["result"]["outcome"], "impossible", "{told:#}");
    // Nor is one of its own calendars stronger than what is closed for the whole site.
    let own = json!({"surface_id": surface, "access_windows": never, "open_calendar": holidays});
    let closed = json!([{"from": "2026-06-02T12:00:00Z", "to": "2026-06-07T00:00:00Z"}]);
    let shut = with(body.clone(), json!({"surfaces": [own], "closed": closed}));
    let told = new_schedule(&admin, &shut).await;
    assert_eq!(told["result"]["outcome"], "impossible", "{told:#}");
    let broken = holidays
        .replace("FREQ=DAILY;COUNT=4", "FREQ=HOURLY")
        .replace("DTEND;TZID=Europe/London", "DTEND;TZID=Europe/Atlantis");
    let refused = admin
        .record(
            "/v1/schedules",
            &with(body, json!({"open_calendar": broken})),
        )
        .await;
    let problem = refused.problem(422, "invalid_body");
    let faults: Vec<&str> = read::list(&problem, "/errors")
        .iter()
        .map(|fault| read::text(fault, "/detail"))
        .collect();
    assert!(
        faults[0].starts_with("Line 5: `Europe/Atlantis` is no time zone"),
        "{faults:?}"
    );
    assert!(
        faults[1].starts_with("Line 6: FREQ=HOURLY is not read here"),
        "{faults:?}"
    );
    let place = |code: &str| ("#/open_calendar".to_owned(), code.to_owned());
    assert_eq!(refused.faults(), [place("malformed"), place("not_read")]);
}

#[tokio::test]
async fn the_way_from_floor_to_floor_takes_its_minutes_and_stairs_take_more() {
    let app = TestApp::start().await;
    let admin = app.admin();
    let small = json!({"name": "Lobby", "area_m2": 30, "perimeter_m": 22, "storey": "0"});
    let (site, lobby, first) = corridor(&admin, small).await;
    let upstairs = json!({"name": "Landing", "area_m2": 30, "perimeter_m": 22, "storey": "1"});
    let (landing, second) = floor(&admin, &site, upstairs).await;
    let mut body = asked(&site, &[&first, &second], "2026-06-12T12:00:00Z");
    let least_gap = async |body: &Value| {
        let told = new_schedule(&admin, body).await;
        assert_eq!(told["result"]["outcome"], "scheduled", "{told:#}");
        let tasks = tasks(&admin, &told).await;
        // Both operatives do each task, so that the next one begins where the last one ended.
        let pairs = tasks
            .windows(2)
            .filter(|pair| pair[0]["surface_id"] != pair[1]["surface_id"]);
        let gaps = pairs.map(|pair| moment(&pair[1], "/from") - moment(&pair[0], "/to"));
        gaps.min().unwrap().num_minutes()
    };
    body["crews"][0]["move_min"] = json!(5);
    assert!((5..12).contains(&least_gap(&body).await));
    body["crews"][0]["storey_min"] = json!(7);
    assert!((12..40).contains(&least_gap(&body).await));
    body["moves"] = json!([{"from": landing, "to": lobby, "minutes": 40}]);
    assert!(least_gap(&body).await >= 40);
    body["moves"] = json!([
        {"from": landing, "to": lobby, "minutes": 40},
        {"from": lobby, "to": landing, "minutes": 20},
        {"from": lobby, "to": lobby, "minutes": 1},
        {"from": "srf_0193e8a0-0000-7000-8000-00000000dead", "to": lobby, "minutes": 1},
    ]);
    let refused = admin.record("/v1/schedules", &body).await;
    refused.problem(422, "invalid_body");
    let fault = |place: &str, code: &str| (place.to_owned(), code.to_owned());
    let mut faults = refused.faults();
    faults.sort();
    let told = [
        fault("#/moves/1/to", "duplicate"),
        fault("#/moves/2/to", "out_of_range"),
        fault("#/moves/3/from", "reference_not_found"),
    ];
    assert_eq!(faults, told);
}
