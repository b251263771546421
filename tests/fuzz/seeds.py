"""Writes what each target begins with, and the words that its inputs are made of.

    python tests/fuzz/seeds.py DIRECTORY

DIRECTORY gets a folder of seeds for each target, and NAME.dict in the form that libFuzzer reads. The seeds are the fixtures of the
tests, as far as they are small, and small files of each format besides: a large seed makes every attempt slow.
"""

import io
import sys
import zipfile
from pathlib import Path

TESTS = Path(__file__).resolve().parent.parent

TABLES = [
    'external_id,name,number,storey,area_m2,perimeter_m,height_m,finish\r\n'
    'a,"Hall, ""west""",1,1,32,24,2.5,VCT\r\nb,Store,2,1,8,12,,"sheet\nvinyl"\r\n',
    "external_id;name;storey;area_m2;finish\na;Hall;1;32;Terrazzo\n",
    "name,external_id,storey,area_m2\n=1+1,a,1,1e3\n'x,b,1,-1\n",
]
OUTLINES = [
    '{"type":"FeatureCollection","features":[{"type":"Feature","id":"a","geometry":{"type":"Polygon","coordinates":'
    '[[[0,0],[30,0],[30,8],[0,8],[0,0]]]},"properties":{"name":"Hall","storey":"1","area_m2":240,"finish":"VCT"}}]}',
    '{"type":"FeatureCollection","features":[{"type":"Feature","id":7,"geometry":{"type":"Polygon","coordinates":[[[0,0],'
    '[9,0],[9,9],[0,9],[0,0]],[[3,3],[3,6],[6,6],[6,3],[3,3]]]},"properties":{"name":"Yard"}},{"type":"Feature",'
    '"geometry":null,"properties":null}]}',
]
SHEETS = {
    "Space": [
        ["Name", "FloorName", "Description", "ExtSystem", "ExtIdentifier", "UsableHeight", "GrossArea", "NetArea"],
        ["101", "L1", "Kitchen &amp; store", "model", "a-1", "8", "n/a", "200"],
        ["102", "L1", "=HYPERLINK(1)", "n/a", "n/a", "n/a", "100", "n/a"],
    ],
    "Facility": [["Name", "LinearUnits", "AreaUnits"], ["Demo", "feet", "square feet"]],
    "Attribute": [
        ["Name", "SheetName", "RowName", "Value", "Unit"],
        ["Perimeter", "Space", "101", "18.288", "meter"],
        ["Floor Covering", "Space", "101", "Sheet vinyl", "n/a"],
    ],
    "Floor": [["Name", "Category"], ["L1", "Floor"], ["Top", "Roof"]],
}
CALENDARS = [
    "DTSTART;TZID=America/New_York:19970902T090000\r\nDURATION:PT1H\r\nRRULE:FREQ=WEEKLY;INTERVAL=2;COUNT=8;WKST=SU;BYDAY=TU,TH\r\n",
    "DTSTART;VALUE=DATE:19970902\r\nDTEND;VALUE=DATE:19970903\r\nRRULE:FREQ=MONTHLY;UNTIL=19971224;BYMONTHDAY=-1\r\n",
    "DTSTART:19970902T090000Z\r\nDTEND:19970902T100000Z\r\nRRULE:FREQ=YEARLY;BYMONTH=3;BYDAY=2SU\r\nEXDATE:19970309T090000Z\r\n"
    "STATUS:CANCELLED\r\nSUMMARY:a\r\n b\r\n",
    "UID:a@b\r\nSEQUENCE:1\r\nDTSTART;TZID=America/New_York:19970902T090000\r\nDURATION:PT1H\r\nRRULE:FREQ=YEARLY;BYYEARDAY=1,100,-1\r\n",
    "UID:a@b\r\nSEQUENCE:2\r\nRECURRENCE-ID;TZID=America/New_York:19980101T090000\r\nDTSTART;TZID=America/New_York:19980102T100000\r\n"
    "DURATION:PT2H\r\n",
]
SIGNED = ["msg_1\n1700000000\nours\n{}", "msg_1\n1700000300\nv1,AA== v1a,x ours\n{}", "a.b\n01700000000\nv1,\n"]

WORDS = {
    "csv": "external_id name number storey area_m2 perimeter_m height_m finish , ; \\x22 \\x0d\\x0a \\xef\\xbb\\xbf VCT",
    "geojson": "FeatureCollection Feature features geometry Polygon MultiPolygon coordinates properties null [[ ]] 1e308 area_m2 finish name crs",
    "cobie": "<row> </row> <c> </c> <v> </v> <si> <t> <is> &amp; &#x41; <![CDATA[ ]]> <!-- --> NetArea GrossArea ExtIdentifier"
    " Perimeter FloorMaterial meter feet n/a <!DOCTYPE \\xff",
    "archive": "PK\\x01\\x02 PK\\x03\\x04 PK\\x05\\x06 xl/workbook.xml xl/sharedStrings.xml",
    "ifc": "IFCSPACE IFCBUILDINGSTOREY IFCBUILDING IFCPROJECT IFCUNITASSIGNMENT IFCSIUNIT IFCCONVERSIONBASEDUNIT IFCELEMENTQUANTITY"
    " IFCQUANTITYAREA IFCQUANTITYLENGTH IFCPROPERTYSET IFCPROPERTYSINGLEVALUE IFCRELDEFINESBYPROPERTIES IFCRELAGGREGATES"
    " IFCEXTRUDEDAREASOLID IFCARBITRARYCLOSEDPROFILEDEF IFCRECTANGLEPROFILEDEF IFCPOLYLINE IFCINDEXEDPOLYCURVE"
    " IFCCARTESIANPOINTLIST2D IFCCARTESIANPOINT IFCCOVERING .METRE. .MILLI. $ * \\x5cX2\\x5c \\x5cX0\\x5c \\x5cS\\x5c ENDSEC; #1 1.E+30",
    "ical": "BEGIN:VEVENT END:VEVENT BEGIN:VCALENDAR END:VCALENDAR DTSTART DTEND DURATION RRULE EXDATE RDATE TZID= VALUE=DATE FREQ="
    " DAILY WEEKLY MONTHLY YEARLY COUNT= UNTIL= INTERVAL= BYDAY= BYMONTHDAY= BYMONTH= BYSETPOS= BYYEARDAY= WKST= UID: SEQUENCE: RECURRENCE-ID STATUS:CANCELLED 19970309T023000 PT1H P1W",
    "json": "null true false 1e400 -0 [[ ]] {} \\x5cud800 \\x5cu0061 \\x22a\\x22:",
    "signature": "v1, v1a, ours msg_ 1700000000 \\x0a",
}


def sheet(rows):
    cells = lambda row: "".join(f'<c t="inlineStr"><is><t>{cell}</t></is></c>' for cell in row)  # noqa: E731
    return "<worksheet><sheetData>" + "".join(f"<row>{cells(row)}</row>" for row in rows) + "</sheetData></worksheet>"


def workbook():
    kept = io.BytesIO()
    with zipfile.ZipFile(kept, "w", zipfile.ZIP_DEFLATED) as archive:
        names = list(SHEETS)
        sheets = "".join(f'<sheet name="{name}" r:id="r{n}"/>' for n, name in enumerate(names))
        links = "".join(f'<Relationship Id="r{n}" Target="s{n}.xml"/>' for n in range(len(names)))
        archive.writestr("xl/workbook.xml", f"<workbook><sheets>{sheets}</sheets></workbook>")
        archive.writestr("xl/_rels/workbook.xml.rels", f"<Relationships>{links}</Relationships>")
        for number, name in enumerate(names):
            archive.writestr(f"xl/s{number}.xml", sheet(SHEETS[name]))
    return kept.getvalue()


def seeds():
    calendar = "BEGIN:VCALENDAR\r\nVERSION:2.0\r\n{}END:VCALENDAR\r\n"
    events = [f"BEGIN:VEVENT\r\n{event}END:VEVENT\r\n" for event in CALENDARS]
    lines = []
    for name in ["odd-json.txt", "broken-json.txt"]:
        lines += (TESTS / "fixtures" / name).read_text().splitlines()
    return {
        "csv": TABLES,
        "geojson": OUTLINES,
        "cobie": [b"\xff".join(sheet(rows).encode() for rows in SHEETS.values()) + b"\xff<sst><si><t>a</t></si></sst>"],
        "archive": [workbook()],
        "ifc": [(TESTS / "handover" / "spaces.ifc").read_bytes()],
        "ical": [calendar.format(event) for event in events] + [calendar.format("".join(events))],
        "json": lines,
        "signature": SIGNED,
    }


def main(directory):
    home = Path(directory)
    for target, inputs in seeds().items():
        folder = home / target
        folder.mkdir(parents=True, exist_ok=True)
        for number, content in enumerate(inputs):
            content = content if isinstance(content, bytes) else content.encode()
            (folder / str(number)).write_bytes(content)
        words = [f'"{word}"\n' for word in WORDS[target].replace('"', "\\x22").split(" ") if word]
        (home / f"{target}.dict").write_text("".join(words))


if __name__ == "__main__":
    main(*sys.argv[1:])
