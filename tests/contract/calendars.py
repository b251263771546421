"""Hands closing hours over as a public library writes them, and reads the calendars of schedules with it.

    python tests/contract/calendars.py BINARY DIRECTORY [--database-url URL]

The library is `icalendar`; what recurs is worked out beside it by `python-dateutil`. A calendar that the service wrote is read, written
again by the library, and handed over as the hours in which nothing may be closed: the next schedule keeps clear of it.
"""

import argparse
import json
import shutil
import sys
import time
import urllib.request
from datetime import UTC, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

from dateutil.rrule import rrulestr
from icalendar import Calendar, Event

from service import EXAMPLES, Service

LONDON = ZoneInfo("Europe/London")
NIGHTS = ["monday", "tuesday", "wednesday", "thursday", "friday"]
checks = 0


def check(true, what):
    global checks
    checks += 1
    if not true:
        raise SystemExit(f"FAILED: {what}")


def get(service, path):
    request = urllib.request.Request(service.url + path, headers={"Authorization": f"Bearer {service.token}"})
    with urllib.request.urlopen(request, timeout=30) as answer:
        return answer.read()


def event(uid, begins, ends, **properties):
    made = Event()
    made.add("uid", uid)
    made.add("dtstamp", datetime(2026, 1, 1, tzinfo=UTC))
    made.add("dtstart", begins)
    made.add("dtend", ends)
    for name, value in properties.items():
        made.add(name.replace("_", "-"), value)
    return made


def calendar(*events):
    made = Calendar()
    made.add("prodid", "-//A building//Hours//EN")
    made.add("version", "2.0")
    for one in events:
        made.add_component(one)
    made.add_missing_timezones()
    return made.to_ical().decode()


def scheduled(service, body, key):
    """Asks for a schedule, waits for it, and answers its path and its tasks as pairs of moments."""
    path = f"/v1/schedules/{service.post('/v1/schedules', body, key)['id']}"
    until = time.monotonic() + 120
    while (told := json.loads(get(service, path)))["status"] in ("queued", "running"):
        check(time.monotonic() < until, "a schedule takes too long")
        time.sleep(0.1)
    check(told["status"] == "succeeded" and told["result"]["outcome"] == "scheduled", f"{key}: {json.dumps(told)[:2000]}")
    tasks, cursor = [], ""
    while cursor is not None:
        page = json.loads(get(service, f"{path}/tasks?limit=200{cursor and '&cursor=' + cursor}"))
        tasks += page["items"]
        cursor = page["next_cursor"]
    moments = [(datetime.fromisoformat(task["from"]), datetime.fromisoformat(task["to"])) for task in tasks]
    return path, moments


def events_of(service, path):
    """The events of a calendar, by their names; every one is as the standard wants it."""
    raw = get(service, f"{path}/calendar")
    read = Calendar.from_ical(raw)
    check(read["version"] == "2.0" and read["prodid"], "a calendar says its version and who wrote it")
    found = {}
    for one in read.walk("VEVENT"):
        check(not one.errors, f"an event has faults: {one.errors}")
        begins, ends = one.decoded("dtstart"), one.decoded("dtend")
        check(begins.tzinfo is not None and begins < ends, f"an event begins at {begins} and ends at {ends}")
        check(one.decoded("dtstamp").tzinfo is not None, "an event says when it was written")
        check(str(one["uid"]) not in found, f"two events are {one['uid']}")
        found[str(one["uid"])] = (begins, ends, int(one["sequence"]), str(one["status"]))
    check(found, "a calendar has events")
    return raw, read, found


def clear_of(tasks, spans, what):
    met = [(task, span) for task in tasks for span in spans if task[0] < span[1] and span[0] < task[1]]
    check(not met, f"{what}: {met[:2]}")


def main():
    arguments = argparse.ArgumentParser()
    arguments.add_argument("binary", type=Path)
    arguments.add_argument("directory", type=Path)
    arguments.add_argument("--database-url")
    given = arguments.parse_args()
    shutil.rmtree(given.directory, ignore_errors=True)
    with Service(given.binary, given.directory, given.database_url) as service:
        site = service.post("/v1/sites", EXAMPLES["registerSite"]["request"] | {"time_zone": "Europe/London"}, "site")["id"]

        def plan(name):
            floor = {"site_id": site, "name": name, "area_m2": 90, "perimeter_m": 40}
            surface = service.post("/v1/surfaces", EXAMPLES["registerSurface"]["request"] | floor, name)["id"]
            return service.post("/v1/plans", EXAMPLES["proposePlan"]["request"] | {"surface_id": surface}, f"plan-{name}")["id"]

        today = datetime.now(LONDON).replace(hour=0, minute=0, second=0, microsecond=0)
        monday = today + timedelta(days=14 - today.weekday())
        # In the first week: on Tuesday all rests, as in every year; on Thursday and Friday evening come guests, as every month on that
        # Thursday and Friday, but this Friday was cancelled, and a Thursday to come was moved to this week's Wednesday.
        evening = {day: monday + timedelta(days=number, hours=17) for number, day in enumerate(["MO", "TU", "WE", "TH", "FR"])}
        hours = timedelta(hours=6)
        nth = {day: (evening[day].day + 6) // 7 for day in ("TH", "FR")}
        text = f"FREQ=MONTHLY;BYDAY={nth['TH']}TH,{nth['FR']}FR"
        first = rrulestr(text, dtstart=datetime(2020, 1, 1, 17)).after(datetime(2020, 1, 1, 17)).replace(tzinfo=LONDON)
        coming = rrulestr(text, dtstart=first.replace(tzinfo=None)).between(monday.replace(tzinfo=None), monday.replace(tzinfo=None) + timedelta(days=150))
        coming = [moment.replace(tzinfo=LONDON) for moment in coming]
        check(evening["TH"] in coming and evening["FR"] in coming, "the guests come in this week")
        to_come = next(moment for moment in coming if moment > evening["FR"] and moment.weekday() == 3)
        guests = event("guests", first, first + hours, rrule={"freq": "monthly", "byday": [f"{n}{day}" for day, n in nth.items()]})
        changes = [
            event("guests", evening["WE"], evening["WE"] + hours, recurrence_id=to_come),
            event("guests", evening["FR"], evening["FR"] + hours, recurrence_id=evening["FR"], status="CANCELLED"),
        ]
        day = evening["TU"].date()
        long_ago = day.replace(year=day.year - 4)
        rest = event("rest", long_ago, long_ago + timedelta(days=1), rrule={"freq": "yearly"})
        midnight = datetime(day.year, day.month, day.day, tzinfo=LONDON)
        closed = [(midnight, midnight + timedelta(days=1)), *((begins, begins + hours) for begins in (evening["WE"], evening["TH"]))]
        body = {
            "site_id": site, "plans": [{"plan_id": plan("Hall")}, {"plan_id": plan("Corridor")}], "schedules": 100,
            "from": monday.astimezone(UTC).isoformat(), "to": (monday + timedelta(days=60)).astimezone(UTC).isoformat(),
            "crews": [{"name": "Evening crew", "operatives": 2, "shifts": [{"days": NIGHTS, "from": "16:00", "to": "23:00"}]}],
        }
        # Without the calendar the crew comes on these days: with it, it does not, but on the Friday.
        _, tasks = scheduled(service, body, "control")
        check(any(task[0] < span[1] and span[0] < task[1] for task in tasks for span in closed), "nothing would have been done in these hours")
        path, tasks = scheduled(service, body | {"closed_calendar": calendar(guests, *changes, rest)}, "first")
        check(any(evening["FR"] <= task[0] < evening["FR"] + hours for task in tasks), "nobody works when the guests do not come")
        clear_of(tasks, closed, "a task lies in hours that a calendar took")

        raw, read, before = events_of(service, path)
        spans = [(begins, ends) for begins, ends, _, _ in before.values()]
        check(all(any(span[0] <= task[0] and task[1] <= span[1] for span in spans) for task in tasks), "a task is in no event")
        check({status for *_, status in before.values()} == {"TENTATIVE"}, "what nobody chose is tentative")

        # What the service wrote, as it is and as the library writes it, keeps the next schedules away.
        other = body | {"plans": [{"plan_id": plan("Refectory")}]}
        for number, text in enumerate([raw.decode(), read.to_ical().decode()]):
            _, later = scheduled(service, other | {"closed_calendar": text}, f"later-{number}")
            clear_of(later, spans, "a task lies in an event that was handed over")

        # Nights go wrong: the same events under the same names, newer ones with a higher number.
        service.post(f"{path}/choose", {"choice": 1}, "choose")
        _, _, chosen = events_of(service, path)
        check({status for *_, status in chosen.values()} == {"CONFIRMED"} and chosen.keys() == before.keys(), "what was chosen is confirmed")
        day = min(begins for begins, *_ in chosen.values()).replace(hour=0, minute=0)
        lost = {"from": day.isoformat(), "to": (day + timedelta(days=1)).isoformat()}
        service.post(f"{path}/replan", {"closed": [lost], "schedules": 100}, "replan")
        _, _, after = events_of(service, path)
        check(chosen.keys() <= after.keys(), "an event that was told of is told of for ever")
        changed = [uid for uid in chosen if after[uid][:2] != chosen[uid][:2] or after[uid][3] == "CANCELLED"]
        check(changed and all(after[uid][2] > chosen[uid][2] for uid in changed), "what moved has a higher number")
    print(f"\ntest result: ok. {checks} passed; 0 failed; calendars held to a public library")
    return 0


if __name__ == "__main__":
    sys.exit(main())
