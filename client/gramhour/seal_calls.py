"""What the client asks about sealed prices."""

from typing import TypeVar

from gramhour import calls_of_seals as calls
from gramhour.calls import Call
from gramhour.contract.seals import PublicKeys, SealVerdict

T = TypeVar("T")


class SealCalls:
    """The part of ``Client`` that asks about sealed prices. It needs no key."""

    def verify_seal(self, seal: str) -> SealVerdict:
        """Say whether a sealed price counts, and what it promises.

        ``status`` is ``valid``, ``expired``, ``not_yet_valid``, ``recalled`` or ``not_genuine``.

        >>> client.verify_seal("not.a.seal").status
        'not_genuine'
        """
        return self._ask(calls.verify_seal(seal))

    def seal_keys(self) -> PublicKeys:
        """Read the keys that verify seals; ``gramhour.seals.SealKeys`` verifies with them.

        >>> [key.crv for key in client.seal_keys().keys]
        ['Ed25519']
        """
        return self._ask(calls.seal_keys())

    def _ask(self, call: Call[T]) -> T:
        raise NotImplementedError
