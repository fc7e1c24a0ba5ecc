"""The contract: what goes over the wire, typed. May import msgspec and nothing else of ours."""
