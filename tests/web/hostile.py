"""A shop in which thirty texts that mean harm stand wherever people may write words."""

from .installation import new_shop, now
from .one_job import PROCEDURE, opened

MARK = "zqx"
TEXTS = (
    '<script>zqx()</script>',
    '<img src=x onerror=zqx()>',
    '"><svg onload=zqx()>',
    "'><zqx>",
    '<zqx onclick=1>',
    '</title><zqx>',
    '</textarea><zqx>',
    '</script><zqx>',
    '<!--<zqx>-->',
    '{{ zqx|safe }}',
    '{% zqx %}',
    "' OR zqx=1 --",
    '"; DROP TABLE zqx;--',
    '<a href=javascript:zqx()>x</a>',
    "<iframe srcdoc='<zqx>'>",
    "<style>@import 'zqx'</style>",
    '<base href=zqx>',
    '&lt;zqx&gt;',
    '" autofocus onfocus=zqx() x="',
    "' style='x:zqx' x='",
    '<math><zqx>',
    '<template><zqx>',
    '<zqx/',
    '<<zqx>>',
    'javascript:zqx()',
    '=zqx()',
    '+zqx',
    '@zqx',
    '${zqx}',
    '<form action=zqx>',
)


def hostile_shop(number="KBW-2036-740"):
    """The shop, its job, and how many of the texts were kept in entries of the job."""
    from soundedge.services.desk import enter
    from soundedge.services.desk import register as desk

    shop = new_shop()
    job, kept = opened(shop, number), 0
    at, until = "2026-11-25T10:00:00Z", "2026-11-25T18:00:00Z"
    procedure = PROCEDURE.read_text(encoding="utf-8")
    for place, text in enumerate(TEXTS):
        person = {"id": f"h{place}", "name": text, "role": "technician", "certificate": text}
        desk.enrol_person(shop.data, shop.actor("manager"), person, now=now())
        tool = {"id": f"X{place}", "kind": "air_meter", "calibrated_on": at, "calibration_due": until, "certificate": text}
        desk.list_instrument(shop.data, shop.actor("manager"), tool, now=now())
        desk.receive_lot(shop.data, shop.actor("manager"), {"id": text, "kind": "abrasive", "expires": until}, now=now())
        desk.withdraw_lot(shop.data, shop.actor("manager"), text, f"Words: {text}", now=now())
        kept += sum(said["outcome"] == "stored" for said in enter.enter(shop.data, shop.actor("technician"), job, [
            {"id": text, "kind": "permit.issued", "at": at, "body": {"until": until, "by": text, "number": text}},
            {"id": f"air-{text}", "kind": "air.read", "at": at,
             "body": {"air_c": 21, "rh_pct": 45, "steel_c": 22, "instrument": "H2"}},
            {"id": f"made-{text}", "kind": "surface.prepared", "at": at, "body": {"method": text}},
        ], now=now()))
    words = "# " + " ".join(TEXTS) + "\n"
    desk.propose_procedure(shop.data, shop.actor("engineer"), procedure + words, because=words, id="proposed-words", now=now())
    return shop, job, kept
