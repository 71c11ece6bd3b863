package domain_test

import (
	"testing"

	"github.com/shopspring/decimal"

	"croftmark/domain"
)

// Calculations reference 6, mass balance: what is on hand, shipped less returned, and disposed is all that was made. Weights in
// kilograms, which are added in pounds, leave no crumb of the conversion behind; a gram that is missing is told.
func TestABalanceOfKilogramsTies(t *testing.T) {
	t.Parallel()
	for _, x := range []struct{ onHand, unexplained, pct, said string }{
		{"5", "0", "100", "Every lb is accounted for."},
		{"4.999", "0.002205", "99.99", "0.002205 lb are not accounted for: trimming, wash loss or a missing record. Say which."},
		{"5.001", "-0.002205", "100.01", "0.002205 lb more are accounted for than were made: a weight or a lot is wrong."},
	} {
		got := domain.Balances([]domain.RecallLot{{Root: true, Quantity: domain.Q("10", "kg"), OnHand: domain.Q(x.onHand, "kg"), Shipped: domain.Q("7", "kg"),
			Returned: domain.Q("2", "kg"), Disposed: domain.Q("0", "kg")}})
		if len(got) != 1 || !got[0].Unexplained.Equal(decimal.RequireFromString(x.unexplained)) || got[0].AccountedPct.String() != x.pct || got[0].Said != x.said {
			t.Errorf("%s kg on hand: %+v, want %s unexplained, %s %%, %q", x.onHand, got, x.unexplained, x.pct, x.said)
		}
	}
}
