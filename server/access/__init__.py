"""Who may use the desks: pairings, the codes that make them, sessions, and how much anybody may ask for at once.

No time, no socket and no database in here: time is asked of `now`, and pairings are kept by a `Store`.
"""

from server.access.codes import Codes
from server.access.doorkeeper import Doorkeeper, Paired, TurnedAway
from server.access.keys import KeyFault, signing_key
from server.access.pairings import Pairing, PairingFault, Pairings, Role, Store
from server.access.sessions import Signer

__all__ = [
    "Codes",
    "Doorkeeper",
    "KeyFault",
    "Paired",
    "Pairing",
    "PairingFault",
    "Pairings",
    "Role",
    "Signer",
    "Store",
    "TurnedAway",
    "signing_key",
]
