"""All receivers that a plan can name."""

from typing import Annotated

from pydantic import Field

from solidcopy.receivers.builtin.settings import BuiltinSettings
from solidcopy.receivers.python_receiver import PythonSettings

AnyReceiver = Annotated[BuiltinSettings | PythonSettings, Field(discriminator="kind")]
"""Settings of any receiver, told apart by `kind`."""
