"""A tiny installed translation: a template with a handful of sentences, and catalogues that hold all of them or not."""

import subprocess
from dataclasses import dataclass
from pathlib import Path

from pytest_django.fixtures import Settings

HEAD = 'msgid ""\nmsgstr ""\n"Content-Type: text/plain; charset=UTF-8\\n"\n{plurals}\n'
PLURALS = {
    "de": "nplurals=2; plural=(n != 1);",
    "es": "nplurals=2; plural=(n != 1);",
    "ar": "nplurals=6; plural=n==0 ? 0 : n==1 ? 1 : n==2 ? 2 : n%100>=3 && n%100<=10 ? 3 : n%100>=11 ? 4 : 5;",
}
# Sentences of real pages, mails and sheets; one has a plural, one a context.
PREFERENCES = "Message preferences"
WORDS = {
    PREFERENCES: {"de": "Wie wir schreiben", "es": "Cómo escribimos", "ar": "كيف نكتب إليك"},
    "Monday": {"de": "Montag", "es": "lunes", "ar": "الاثنين"},
}


@dataclass(frozen=True)
class Catalogues:
    settings: Settings
    folder: Path

    def install(self, *languages: str, unfinished: str = "", fuzzy: bool = False) -> None:
        """Each language whole; in the unfinished one a single sentence is missing, or is only a guess (fuzzy)."""
        self.folder.mkdir()
        self.write("django.pot", self.entries("", PLURALS["de"]))
        for language in languages:
            entries = self.entries(language, PLURALS[language])
            if language == unfinished:
                right = f'msgid "{PREFERENCES}"\nmsgstr "{WORDS[PREFERENCES][language]}"'
                wrong = f"#, fuzzy\n{right}" if fuzzy else f'msgid "{PREFERENCES}"\nmsgstr ""'
                assert right in entries
                entries = entries.replace(right, wrong)
            self.compile(language, entries)
        # Django forgets what it has read of catalogues when this setting changes.
        self.settings.LOCALE_PATHS = [self.folder]

    def entries(self, language: str, plurals: str) -> str:
        said = [f'msgid "{text}"\nmsgstr "{theirs.get(language, "")}"\n' for text, theirs in WORDS.items()]
        forms = int(plurals[len("nplurals=")])
        word = "x" if language else ""
        many = "".join(f'msgstr[{number}] "{word}"\n' for number in range(forms))
        said.append(f'msgid "%(count)d sheet, made here only for these tests"\nmsgid_plural "%(count)d sheets"\n{many}')
        said.append(f'msgctxt "of a test"\nmsgid ""\n"two "\n"lines"\nmsgstr "{word}"\n')
        return HEAD.format(plurals=f'"Plural-Forms: {plurals}\\n"\n') + "\n".join(said)

    def write(self, name: str, text: str) -> Path:
        path = self.folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8")
        return path

    def compile(self, language: str, text: str) -> None:
        path = self.write(f"{language}/LC_MESSAGES/django.po", text)
        subprocess.run(["msgfmt", "--output-file", path.with_suffix(".mo"), path], check=True, capture_output=True)
