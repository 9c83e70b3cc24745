"""The address for loggers, described for whoever writes one: OpenAPI 3.1."""

from typing import Any

from firing.controller_log.pushed import MOST_LINES, UNITS

INSTANT = {
    "type": "string",
    "format": "date-time",
    "description": "An instant with its offset from UTC.",
    "examples": ["2026-03-04T05:06:07Z"],
}
PAIR = {
    "type": "array",
    "prefixItems": [INSTANT, {"type": "number", "description": "The temperature."}],
    "items": False,
    "minItems": 2,
}
PAIRS = {"type": "array", "items": PAIR, "minItems": 1, "maxItems": MOST_LINES}
UNIT = {"type": "string", "enum": list(UNITS), "default": "C"}
CLOCK = INSTANT | {
    "description": "What the logger's own clock shows as it sends. Where that is more "
    "than a minute off, its readings are moved by as much."
}
PROBLEMS = {
    "400": "The body is no list of readings; the answer names the line.",
    "401": "The token opens nothing.",
    "403": "It came over http though the server asks for https.",
    "409": "No firing runs in the kiln, or a reading is of another time.",
    "413": "More than {most_kib} KiB, or {most} readings.",
    "415": "Packed in another way than gzip.",
    "429": "More than 30 times a minute; Retry-After says when to go on.",
}


def description(origin: str, path: str, *, most_bytes: int) -> dict[str, Any]:
    """Return the OpenAPI description of the one address that takes readings.

    Parameters
    ----------
    origin, path : str
        Where the server is, and the address on it.
    most_bytes : int
        How much it takes at once.

    References
    ----------
    OpenAPI Specification 3.1.0; JSON Schema 2020-12.
    """
    problem = {"application/json": {"schema": {"$ref": "#/components/schemas/Problem"}}}
    answers: dict[str, Any] = {
        "200": {
            "description": "Kept; what was sent before is kept once.",
            "content": {
                "application/json": {"schema": {"$ref": "#/components/schemas/Kept"}}
            },
        }
    }
    for status, words in PROBLEMS.items():
        answers[status] = {
            "description": words.format(most_kib=most_bytes // 1024, most=MOST_LINES),
            "content": problem,
        }
    return {
        "openapi": "3.1.0",
        "info": {
            "title": "Readings of a running firing",
            "version": "1",
            "description": "A logger sends what its kiln shows. Late, repeated and "
            "unordered readings are welcome: each instant is kept once. After an outage "
            "send again what was not answered with 200.",
        },
        "servers": [{"url": origin}],
        "security": [{"token": []}],
        "paths": {
            path: {
                "post": {
                    "operationId": "sendReadings",
                    "summary": "Send readings",
                    "parameters": [
                        {"name": "unit", "in": "query", "schema": UNIT},
                        {"name": "clock", "in": "query", "schema": CLOCK},
                    ],
                    "requestBody": {
                        "required": True,
                        "content": {
                            "application/json": {
                                "schema": {"$ref": "#/components/schemas/Readings"}
                            },
                            "text/csv": {
                                "schema": {
                                    "type": "string",
                                    "description": "Lines of an instant and a "
                                    "temperature, with or without names above them.",
                                    "examples": ["2026-03-04T05:06:07Z,482.5\n"],
                                }
                            },
                        },
                    },
                    "responses": answers,
                }
            }
        },
        "components": {
            "securitySchemes": {
                "token": {
                    "type": "http",
                    "scheme": "bearer",
                    "description": "The logger's token, from the kiln's page.",
                }
            },
            "schemas": {
                "Readings": {
                    "anyOf": [
                        PAIRS,
                        {
                            "type": "object",
                            "properties": {
                                "unit": UNIT,
                                "clock": CLOCK,
                                "readings": PAIRS,
                            },
                            "required": ["readings"],
                        },
                    ]
                },
                "Kept": {
                    "type": "object",
                    "properties": {
                        "firing": {"type": "string"},
                        "kept": {"type": "integer", "minimum": 0},
                        "known_already": {"type": "integer", "minimum": 0},
                    },
                    "required": ["firing", "kept", "known_already"],
                    "additionalProperties": False,
                },
                "Problem": {
                    "type": "object",
                    "properties": {"problem": {"type": "string"}},
                    "required": ["problem"],
                    "additionalProperties": False,
                },
            },
        },
    }
