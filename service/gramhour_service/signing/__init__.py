"""Signs what the service wants to know again, and tells whether it comes back as it was.

Compact JWS (RFC 7515) with Ed25519 (RFC 8037, under its name of RFC 9864). Knows keys and bytes;
must not know what is signed, where keys are kept, or what time it is.
"""
