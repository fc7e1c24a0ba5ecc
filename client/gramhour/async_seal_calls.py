"""What the asynchronous client asks about sealed prices: the calls of ``seal_calls``."""

from typing import TypeVar

from gramhour import calls_of_seals as calls
from gramhour.calls import Call
from gramhour.contract.seals import PublicKeys, SealVerdict

T = TypeVar("T")


class AsyncSealCalls:
    """The part of ``AsyncClient`` that asks about sealed prices. It needs no key."""

    async def verify_seal(self, seal: str) -> SealVerdict:
        """Say whether a sealed price counts: see ``Client.verify_seal``."""
        return await self._ask(calls.verify_seal(seal))

    async def seal_keys(self) -> PublicKeys:
        """Read the keys that verify seals: see ``Client.seal_keys``."""
        return await self._ask(calls.seal_keys())

    async def _ask(self, call: Call[T]) -> T:
        raise NotImplementedError
