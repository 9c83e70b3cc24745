"""The commands by which whoever runs the server takes a studio out and brings it in."""

import re

import pytest
from django.core.management import CommandError, call_command

from studio.models import Person, Studio
from studio.services.leaving import delete_studio
from tests import make


def test_out_and_in_again(cast, client, tmp_path, capsys):
    make.piece(studio=cast.studio, glass=cast.glass, by=cast.owner)
    path = tmp_path / "gullmarsh.zip"
    call_command("export_studio", "Gullmarsh", str(path))
    assert re.search(r"holds Gullmarsh: \d+ records", capsys.readouterr().out)
    email = cast.owner.email
    delete_studio(studio=cast.studio)

    call_command("import_studio", str(path))
    told = capsys.readouterr().out
    assert "Gullmarsh is here." in told
    link = re.search(rf"Owner {re.escape(email)} sets a password .* (/\S+)", told)
    assert client.get(link.group(1)).status_code == 302
    assert not Person.objects.get(email=email).has_usable_password()
    assert "the old ones open nothing" in told

    with pytest.raises(CommandError, match=r"is here already.*Nothing was brought in"):
        call_command("import_studio", str(path))
    call_command("import_studio", str(path), "--again", "--admit", email)
    assert Studio.objects.count() == 2
    assert "was not admitted" in capsys.readouterr().out


def test_what_cannot_be_done_is_said(cast, strangers, tmp_path):
    there = tmp_path / "there.zip"
    there.write_bytes(b"mine")
    with pytest.raises(CommandError, match="is there already"):
        call_command("export_studio", "Gullmarsh", str(there))
    assert there.read_bytes() == b"mine"
    with pytest.raises(CommandError, match="cannot be written"):
        call_command("export_studio", "Gullmarsh", str(tmp_path / "no" / "x.zip"))
    with pytest.raises(CommandError, match=r"no studio 'Reedmouth'.*Fernhaven"):
        call_command("export_studio", "Reedmouth", str(tmp_path / "x.zip"))
    make.studio(name="Gullmarsh")
    with pytest.raises(CommandError, match="Several studios are called that"):
        call_command("export_studio", "Gullmarsh", str(tmp_path / "x.zip"))
    call_command("export_studio", str(cast.studio.pk), str(tmp_path / "x.zip"))
    with pytest.raises(CommandError, match="There is no file"):
        call_command("import_studio", str(tmp_path / "none.zip"))
    with pytest.raises(CommandError, match=r"no whole archive.*Nothing was brought in"):
        call_command("import_studio", str(there))
    assert sorted(path.name for path in tmp_path.iterdir()) == ["there.zip", "x.zip"]
