"""Checks bills of materials by the schema of CycloneDX 1.5, as its library for npm carries
it, with Debian's python3-jsonschema: validate.py FILE..."""
import json
import pathlib
import sys

import jsonschema

folder = pathlib.Path(__file__).parent / "node_modules/@cyclonedx/cyclonedx-library/res/schema"
schemas = {name: json.loads((folder / f"{name}.SNAPSHOT.schema.json").read_text()) for name in ("bom-1.5", "spdx", "jsf-0.82")}
resolver = jsonschema.RefResolver.from_schema(schemas["bom-1.5"], store={s["$id"]: s for s in schemas.values()})
validator = jsonschema.Draft7Validator(schemas["bom-1.5"], resolver=resolver, format_checker=jsonschema.FormatChecker())
wrong = 0
for file in sys.argv[1:]:
    for error in validator.iter_errors(json.loads(pathlib.Path(file).read_text())):
        print(f"{file}: {'/'.join(map(str, error.path))}: {error.message}")
        wrong += 1
sys.exit(wrong > 0 or len(sys.argv) < 2)
