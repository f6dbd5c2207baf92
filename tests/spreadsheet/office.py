"""Runs Basic macros in a headless LibreOffice with a profile of its own, each run under a hard time limit."""

import os
import pathlib
import subprocess
import xml.sax.saxutils

PROGRAM = pathlib.Path(os.environ.get("OFFICE_PROGRAM", "/usr/lib/libreoffice/program/soffice.bin"))

# A document may call out when it lies in a trusted folder and is loaded with its links updated; stored formulas of the
# other file format are computed again only when that is asked for.
SETTINGS = """<?xml version="1.0" encoding="UTF-8"?>
<oor:items xmlns:oor="http://openoffice.org/2001/registry" xmlns:xs="http://www.w3.org/2001/XMLSchema"
 xmlns:xsi="http://www.w3.org/2001/XMLSchema-instance">
<item oor:path="/org.openoffice.Office.Common/Security/Scripting"><prop oor:name="SecureURL" oor:op="fuse"><value><it>{trusted}</it></value></prop></item>
<item oor:path="/org.openoffice.Office.Calc/Formula/Load"><prop oor:name="OOXMLRecalcMode" oor:op="fuse"><value>0</value></prop></item>
<item oor:path="/org.openoffice.Office.Calc/Formula/Load"><prop oor:name="ODFRecalcMode" oor:op="fuse"><value>0</value></prop></item>
<item oor:path="/org.openoffice.Setup/L10N"><prop oor:name="ooSetupSystemLocale" oor:op="fuse"><value>{locale}</value></prop></item>
</oor:items>
"""

LIBRARY = """<?xml version="1.0" encoding="UTF-8"?>
<!DOCTYPE library:library PUBLIC "-//OpenOffice.org//DTD OfficeDocument 1.0//EN" "library.dtd">
<library:library xmlns:library="http://openoffice.org/2000/library" library:name="Standard" library:readonly="false" library:passwordprotected="false">
{elements}
</library:library>
"""

MODULE = """<?xml version="1.0" encoding="UTF-8"?>
<!DOCTYPE script:module PUBLIC "-//OpenOffice.org//DTD OfficeDocument 1.0//EN" "module.dtd">
<script:module xmlns:script="http://openoffice.org/2000/script" script:name="{name}" script:language="StarBasic">{text}</script:module>
"""


class Office:
    """An office in a locale, with macros."""

    def __init__(self, folder, locale, modules, python_scripts=()):
        self.folder = pathlib.Path(folder)
        self.trusted = self.folder / "trusted"
        self.trusted.mkdir(parents=True)
        user = self.folder / "profile" / "user"
        user.mkdir(parents=True)
        settings = SETTINGS.format(trusted=self.trusted.as_uri(), locale=locale)
        (user / "registrymodifications.xcu").write_text(settings)
        # The first start writes the profile, the macros' folder included.
        self.start("--terminate_after_init")
        self.write_library(user / "basic" / "Standard", modules)
        scripts = user / "Scripts" / "python"
        scripts.mkdir(parents=True)
        for script in python_scripts:
            (scripts / script.name).write_text(script.read_text())

    @staticmethod
    def write_library(folder, modules):
        folder.mkdir(parents=True, exist_ok=True)
        elements = "\n".join(f' <library:element library:name="{name}"/>' for name in modules)
        (folder / "script.xlb").write_text(LIBRARY.format(elements=elements))
        (folder / "dialog.xlb").write_text(LIBRARY.format(elements=""))
        for name, text in modules.items():
            (folder / f"{name}.xba").write_text(MODULE.format(name=name, text=xml.sax.saxutils.escape(text)))

    def start(self, *arguments, seconds=40):
        """Starts the office; kills it, and fails, when it takes longer."""
        command = ["timeout", "-k", "2", str(seconds), PROGRAM, f"-env:UserInstallation={(self.folder / 'profile').as_uri()}",
                   "--headless", "--norestore", *arguments]
        run = subprocess.run(command, stdin=subprocess.DEVNULL, capture_output=True, text=True)
        # A brand-new profile may ask for one more start.
        if run.returncode == 81:
            run = subprocess.run(command, stdin=subprocess.DEVNULL, capture_output=True, text=True)
        assert run.returncode == 0, f"{arguments}: code {run.returncode} (124: took over {seconds} s): {run.stdout}{run.stderr}"
        return run

    def macro(self, name, *arguments, seconds=40):
        """Runs `Standard.<name>`, whose last argument is a file for its report; gives the report's lines."""
        report = self.trusted / "report.txt"
        report.unlink(missing_ok=True)
        texts = ",".join(f'"{text}"' for text in [*arguments, report.as_uri()])
        self.start(f"macro:///Standard.{name}({texts})", seconds=seconds)
        assert report.exists(), f"{name} wrote no report: a module may not compile"
        lines = report.read_text(encoding="utf-8").splitlines()
        assert lines and lines[-1] == "end", f"{name} stopped: {lines}"
        return lines[:-1]
