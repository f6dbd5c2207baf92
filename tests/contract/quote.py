"""A quoting system with the client that was generated for Python: prices the operations of a measured block, and shows why a
wrong request is refused.

    python3 quote.py ADDRESS FILE
"""

import json
import pathlib
import sys

from blockwright_client import Client
from blockwright_client.api.builds import builds_evaluate, builds_operations
from blockwright_client.models import EvaluateRequest, OperationsRequest, OperationsResponse, ProblemDocument

PRICES = {"bore_cylinder": 22.0, "hone_cylinder": 18.0, "deck_block": 95.0, "line_hone": 260.0}
"""The shop's own price list, per time that an operation is done; what is not in it is 75."""


def main():
    address, file = sys.argv[1:3]
    request = json.loads(pathlib.Path(file).read_text())
    with Client(base_url=address, raise_on_unexpected_status=True) as service:
        answer = builds_operations.sync(client=service, body=OperationsRequest.from_dict(request))
        assert isinstance(answer, OperationsResponse), answer
        total = 0.0
        for line in answer.operations:
            amount = PRICES.get(line.operation.value, 75.0) * line.count
            total += amount
            print(line.sequence, line.operation.value, line.place.value, "x", f"{line.count}: {amount:.2f}")
        print(f"total {total:.2f} for {len(answer.operations)} lines")
        for caution in answer.cautions:
            print("caution", caution.code)

        request["plan"]["bore"] = "4,03"
        refused = builds_operations.sync(client=service, body=OperationsRequest.from_dict(request))
        assert isinstance(refused, ProblemDocument), refused
        for fault in refused.errors:
            print("refused", refused.status, fault.pointer, fault.code)

        # A whole sheet as well, with numbers back in the types of the document.
        if len(sys.argv) > 3:
            sheet = EvaluateRequest.from_dict(json.loads(pathlib.Path(sys.argv[3]).read_text()))
            print("ratio", builds_evaluate.sync(client=service, body=sheet).compression.static_ratio)


if __name__ == "__main__":
    main()
