"""What the office loads: the cell functions, and the commands of the menu. Calculates nothing."""

import unohelper
from com.sun.star.awt.MessageBoxButtons import BUTTONS_OK
from com.sun.star.awt.MessageBoxType import INFOBOX
from com.sun.star.lang import IllegalArgumentException, Locale, XServiceInfo, XServiceName
from com.sun.star.sheet import XAddIn
from com.sun.star.task import XJob, XJobExecutor
from gramhour_asking import Refused, cost_of, margin_of, price_asked
from gramhour_rows import columns_of, told
from gramhour_settings import ask_for_settings, service_of
from gramhour_sheet import price_selected

from gramhour import XFunctions

FUNCTIONS = "gramhour.Functions"
COMMANDS = "gramhour.Commands"
TITLE = "Gramhour"


class Functions(unohelper.Base, XFunctions, XAddIn, XServiceName, XServiceInfo):
    """GRAMHOUR.PRICE, .COST, .MARGIN and .WHY: headings and a row in, a number or an error out."""

    def __init__(self, context):
        self._context, self._locale = context, Locale("en", "US", "")

    def price(self, names, row):
        """Give the price of a unit."""
        return self._number(names, row, price_asked)

    def cost(self, names, row):
        """Give what a unit costs."""
        return self._number(names, row, cost_of)

    def margin(self, names, row):
        """Give the margin in per cent."""
        return self._number(names, row, margin_of)

    def why(self, names, row):
        """Say why there is no price, or nothing."""
        try:
            price_asked(self._quote(names, row))
        except Refused as refused:
            return str(refused)
        return ""

    def _number(self, names, row, of):
        """Give a number of a quote; a refusal is an error in the cell, never a text or a 0."""
        try:
            return float(of(self._quote(names, row)))
        except Refused as refused:
            raise IllegalArgumentException(str(refused), self, 0) from None

    def _quote(self, names, row):
        if len(names) != 1 or len(row) != 1:
            raise Refused("give the headings and one row: GRAMHOUR.PRICE(A$1:H$1; A2:H2)")
        return service_of(self._context).quote(told(columns_of(names[0]), row[0]))

    # What an add-in has to say of itself; the names that people read stand in Functions.xcu.
    def getProgrammaticFuntionName(self, shown):
        return shown.lower().rpartition(".")[2]

    def getDisplayFunctionName(self, name):
        return f"GRAMHOUR.{name.upper()}"

    def getFunctionDescription(self, name):
        return ""

    def getDisplayArgumentName(self, name, number):
        return ("headings", "row")[number]

    def getArgumentDescription(self, name, number):
        return ""

    def getProgrammaticCategoryName(self, name):
        return "Add-In"

    def getDisplayCategoryName(self, name):
        return "Add-In"

    def setLocale(self, locale):
        self._locale = locale

    def getLocale(self):
        return self._locale

    def getServiceName(self):
        return FUNCTIONS

    def getImplementationName(self):
        return FUNCTIONS

    def supportsService(self, name):
        return name in self.getSupportedServiceNames()

    def getSupportedServiceNames(self):
        return (FUNCTIONS, "com.sun.star.sheet.AddIn")


class Commands(unohelper.Base, XJob, XJobExecutor, XServiceInfo):
    """The menu's commands."""

    def __init__(self, context):
        self._context = context

    def execute(self, arguments):
        """Price the selected rows of a Document; say in words what was done, or why nothing was.

        For macros of one's own: the office knows this as ``XJob``.
        """
        told = {each.Name: each.Value for each in arguments}
        return self._priced(told["Document"])

    def _priced(self, document):
        try:
            return price_selected(document, service_of(self._context))
        except Refused as refused:
            return f"Nothing was changed: {refused}"

    def trigger(self, command):
        """Do what the menu says, and tell it in a window."""
        desktop = self._context.ServiceManager.createInstance("com.sun.star.frame.Desktop")
        document = desktop.getCurrentComponent()
        if command == "settings":
            ask_for_settings(self._context)
        elif document is not None:
            self._tell(document, self._priced(document))

    def _tell(self, document, words):
        window = document.getCurrentController().getFrame().getContainerWindow()
        toolkit = window.getToolkit()
        toolkit.createMessageBox(window, INFOBOX, BUTTONS_OK, TITLE, words).execute()

    def getImplementationName(self):
        return COMMANDS

    def supportsService(self, name):
        return name == COMMANDS

    def getSupportedServiceNames(self):
        return (COMMANDS,)


g_ImplementationHelper = unohelper.ImplementationHelper()
g_ImplementationHelper.addImplementation(
    Functions, FUNCTIONS, (FUNCTIONS, "com.sun.star.sheet.AddIn")
)
g_ImplementationHelper.addImplementation(Commands, COMMANDS, (COMMANDS,))
