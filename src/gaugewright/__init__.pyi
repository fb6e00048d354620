from gaugewright.calc.chain import Chain as Chain
from gaugewright.calc.chain import Influence as Influence
from gaugewright.calc.chain import Stage as Stage
from gaugewright.calc.uncertainty import InputQuantity as InputQuantity
from gaugewright.calc.uncertainty import Uncertain as Uncertain
from gaugewright.errors import GaugewrightError as GaugewrightError
from gaugewright.errors import InputError as InputError
from gaugewright.services.reducing.reader import CampaignReader as CampaignReader
from gaugewright.services.reducing.reader import open_campaign as open_campaign
from gaugewright.units import to_si as to_si
from gaugewright.units import unit_named as unit_named

__version__: str
