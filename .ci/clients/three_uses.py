"""One real call of each of the three uses, with the client made from the API description."""

import sys

from made import Client, models
from made.api.calculations import order, transfer_by_query
from made.api.reference import get_alloy_density

shop = Client(base_url=sys.argv[1], raise_on_unexpected_status=True)

wanted = {"final_metal": "gold-585-yellow", "pieces": 2, "trial": {"metal": "sterling-silver", "mass": "6.31 g"}}
answer = order.sync(client=shop, body=models.OrderInputs.from_dict(wanted))
assert isinstance(answer, models.OrderAnswer), answer
charge = answer.result.charge
assert charge.value > 2 * answer.result.finished_mass.value
assert answer.result.balance.total.difference == 0

density = get_alloy_density.sync(client=shop, name="sterling-silver")
assert 10 < density.value < 11
assert density.unit == "g/cm3"

asked = {"mass": "4.82", "unit": "dwt", "from_metal": "sterling-silver", "to_metal": "gold-750-yellow"}
transfer = transfer_by_query.sync(client=shop, **asked)
assert 1.4 < transfer.result.ratio.value < 1.6

wanted["trial"]["mass"] = "6.31 oz"
refused = order.sync(client=shop, body=models.OrderInputs.from_dict(wanted))
assert isinstance(refused, models.Problem), refused
assert refused.errors[0].pointer == "/trial/mass"
print(f"Python: charge {charge.value} g, density {density.value} g/cm3")
