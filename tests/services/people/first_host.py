"""The first host of an installation: a shop, an open job, and people who are signed in; what their browsers send, as JSON.

    python -m tests.services.people.first_host FOLDER PEOPLE
"""

import json
import re
import sys
from pathlib import Path

from tests.web.installation import browser, new_shop, now, set_up
from tests.web.one_job import opened


def main(place: Path, people: int) -> None:
    """Make it under ``place`` and print it."""
    from soundedge.services.people import accounts

    set_up(place)
    shop = new_shop()
    job, manager, out = opened(shop, "KBW-2036-501"), shop.actor("manager"), []
    for number in range(people):
        word = chr(97 + number)
        person = {"id": f"tech-{word}", "name": f"Tove Brandt {word.upper()}", "role": "technician", "certificate": f"C-{word}",
                  "qualified_until": "2036-01-01T00:00:00Z", "qualified_for": ["ectfe"]}
        login, password = f"{word}.{shop.slug}", f"{word} quiet harbour lamps"
        account, once = accounts.add_person(shop.row, person, login=login, by=manager, now=now())
        accounts.change_password(account, once, password, now=now())
        device, token = accounts.enrol_device(shop.row, f"tablet {word}", by=manager, now=now())
        client = browser()
        client.cookies["__Host-device"] = token
        assert client.post("/sign-in/", {"login": login, "password": password}).status_code == 302
        csrf = re.search(r'name="csrf" content="([^"]+)"', client.get(f"/jobs/{job}/").content.decode())[1]
        cookies = "; ".join(f"{name}={one.value}" for name, one in client.cookies.items())
        out.append({"device": device.name, "headers": {"Cookie": cookies, "X-CSRFToken": csrf, "Host": "localhost"}})
    print(json.dumps({"slug": shop.slug, "job": job, "people": out}))


if __name__ == "__main__":
    main(Path(sys.argv[1]), int(sys.argv[2]))
