"""Where the service is and the key for it: in the environment, else in the office's settings.

Never in a document. The settings stand in the office's profile, which is this person's alone.
"""

import os
import threading

from com.sun.star.beans import PropertyValue
from gramhour_asking import Service

NODE = "/gramhour.Settings/Service"
PASSWORD = ord("*")
_KEPT = {}
_LOCK = threading.Lock()


def service_of(context):
    """Find the service that is set, always the same while the settings are. Raises ``Refused``."""
    stored = _settings(context, "Access")
    address = os.environ.get("GRAMHOUR_URL") or stored.Address
    key = os.environ.get("GRAMHOUR_KEY") or stored.Key
    with _LOCK:
        if (address, key) not in _KEPT:
            _KEPT.clear()
            _KEPT[address, key] = Service(address, key)
        return _KEPT[address, key]


def _settings(context, way):
    provider = context.ServiceManager.createInstanceWithContext(
        "com.sun.star.configuration.ConfigurationProvider", context
    )
    node = PropertyValue("nodepath", 0, NODE, 0)
    return provider.createInstanceWithArguments(
        f"com.sun.star.configuration.Configuration{way}", (node,)
    )


def ask_for_settings(context):
    """Show the settings, and keep what is typed in."""
    stored = _settings(context, "UpdateAccess")
    manager = context.ServiceManager
    dialog = manager.createInstanceWithContext("com.sun.star.awt.UnoControlDialog", context)
    model = manager.createInstanceWithContext("com.sun.star.awt.UnoControlDialogModel", context)
    _place(model, 100, 100, 220, 92)
    model.Title = "Gramhour: address and key"
    fields = (("Address", stored.Address, 0), ("Key", stored.Key, PASSWORD))
    for n, (name, text, echo) in enumerate(fields):
        label = model.createInstance("com.sun.star.awt.UnoControlFixedTextModel")
        _place(label, 6, 8 + 32 * n, 208, 10)
        label.Label = f"{name} of the service" if echo == 0 else "Key (kept in your profile)"
        model.insertByName(f"Label{name}", label)
        field = model.createInstance("com.sun.star.awt.UnoControlEditModel")
        _place(field, 6, 19 + 32 * n, 208, 14)
        field.Text, field.EchoChar = text, echo
        model.insertByName(name, field)
    for n, (word, kind) in enumerate((("OK", 1), ("Cancel", 2))):
        button = model.createInstance("com.sun.star.awt.UnoControlButtonModel")
        _place(button, 108 + 56 * n, 72, 50, 15)
        button.Label, button.PushButtonType = word, kind
        model.insertByName(word, button)
    dialog.setModel(model)
    toolkit = manager.createInstanceWithContext("com.sun.star.awt.Toolkit", context)
    dialog.createPeer(toolkit, None)
    if dialog.execute() == 1:
        stored.Address, stored.Key = (model.getByName(name).Text for name, _, _ in fields)
        stored.commitChanges()
    dialog.dispose()


def _place(model, x, y, width, height):
    model.PositionX, model.PositionY = x, y
    model.Width, model.Height = width, height
