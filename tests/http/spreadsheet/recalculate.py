"""Run by the Python that LibreOffice's own bindings are installed for: open, recalculate, store each sheet as csv.

usage: recalculate.py PROFILE PIPE OUT FILE LOCALE

A document that is loaded from a file may not ask the network in headless mode, one that is new may: so every
sheet is taken over into a new document first.
"""

import pathlib
import subprocess
import sys
import time

SECONDS = 90
TRIES = 200


def value(name, what):
    """A named value as the office wants it."""
    from com.sun.star.beans import PropertyValue  # here, so that the file can be imported where there is no office

    one = PropertyValue()
    one.Name, one.Value = name, what
    return one


def desktop(pipe, office):
    """The running office, asked until it answers or has ended."""
    import uno
    from com.sun.star.connection import NoConnectException

    local = uno.getComponentContext()
    resolver = local.ServiceManager.createInstanceWithContext("com.sun.star.bridge.UnoUrlResolver", local)
    end = time.monotonic() + SECONDS
    while time.monotonic() < end:
        try:
            context = resolver.resolve(f"uno:pipe,name={pipe};urp;StarOffice.ComponentContext")
            return context.ServiceManager.createInstanceWithContext("com.sun.star.frame.Desktop", context)
        except NoConnectException:
            try:
                office.wait(0.1)
            except subprocess.TimeoutExpired:
                continue
            break
    raise SystemExit("the office did not start")


def opened(desk, office, address, hidden):
    """The document at an address. The office answers before all of it is there, and then opens nothing."""
    for _ in range(TRIES):
        document = desk.loadComponentFromURL(address, "_blank", 0, hidden)
        if document is not None:
            return document
        try:
            office.wait(0.1)
        except subprocess.TimeoutExpired:
            continue
        break
    raise SystemExit(f"the office did not open {address}")


LOCALE = """<?xml version="1.0" encoding="UTF-8"?>
<oor:items xmlns:oor="http://openoffice.org/2001/registry">
<item oor:path="/org.openoffice.Setup/L10N">
<prop oor:name="ooSetupSystemLocale" oor:op="fuse"><value>{}</value></prop>
</item>
</oor:items>
"""


def main(profile, pipe, out, file, locale):
    """Recalculate every sheet of the file and store it as book-NAME.csv in the folder."""
    settings = pathlib.Path(profile) / "user" / "registrymodifications.xcu"
    settings.parent.mkdir(parents=True)
    settings.write_text(LOCALE.format(locale), encoding="utf-8")
    command = ["soffice", "--headless", "--norestore", "--nologo", f"--accept=pipe,name={pipe};urp;"]
    with subprocess.Popen([*command, f"-env:UserInstallation={pathlib.Path(profile).as_uri()}"]) as office:
        try:
            desk = desktop(pipe, office)
            hidden = (value("Hidden", True),)
            loaded = opened(desk, office, pathlib.Path(file).as_uri(), hidden)
            fresh = opened(desk, office, "private:factory/scalc", hidden)
            names = loaded.Sheets.ElementNames
            for place, name in enumerate(names):
                fresh.Sheets.importSheet(loaded, name, place)
            loaded.close(True)
            fresh.calculateAll()
            target = (pathlib.Path(out) / "book.csv").as_uri()
            # Semicolons, UTF-8, values as shown, and (last) every sheet into a file of its own.
            options = value("FilterOptions", "59,34,76,1,,0,false,true,true,false,false,-1")
            fresh.storeToURL(target, (value("FilterName", "Text - txt - csv (StarCalc)"), options))
            desk.terminate()
        finally:
            office.terminate()


if __name__ == "__main__":
    main(*sys.argv[1:])
