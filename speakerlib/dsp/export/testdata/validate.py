# Checks the schemas and the published documents with Python's jsonschema (4.10.3).
# Run here: /usr/bin/python3 validate.py [further documents of version 3]
import json
import sys

import jsonschema

for version in (1, 2, 3):
    schema = json.load(open(f"../schema-{version}.json"))
    jsonschema.Draft202012Validator.check_schema(schema)
    v = jsonschema.Draft202012Validator(schema)
    for name in [f"release-{version}.json"] + (sys.argv[1:] if version == 3 else []):
        d = json.load(open(name))
        v.validate(d)
        # And every field that is taken out, or added, is found.
        found = total = 0

        def walk(node, root):
            global found, total
            if isinstance(node, dict):
                for k in list(node):
                    kept = node.pop(k)
                    total += 1
                    found += not v.is_valid(root)
                    node[k] = kept
                    walk(kept, root)
                node["surprise"] = 1
                total += 1
                found += not v.is_valid(root)
                del node["surprise"]
            elif isinstance(node, list):
                for x in node:
                    walk(x, root)

        walk(d, d)
        print(f"{name}: valid for version {version}; {found} of {total} fields taken out or added are refused")
