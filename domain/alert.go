package domain

import "fmt"

// AlertSteps says what to do with a lot that is judged worse now than when it was cut; gone says that somebody got it, or
// something packed from it.
func AlertSteps(now Verdict, onHand Quantity, gone bool) []string {
	var steps []string
	if onHand.Value.Sign() > 0 {
		steps = append(steps, fmt.Sprintf("Set apart what is still on the farm (%s); it is held and can't be labelled, packed or shipped.", onHand))
	}
	if gone {
		steps = append(steps, "Tell those who got it (shipped_to), and write down whom you reached. A recall or a drill lists every one of them.")
	}
	switch now {
	case Stop:
		steps = append(steps, "Do not sell or give it away. Call your state produce safety program; tell the certifier and the buyers of what left.")
	case Ask:
		steps = append(steps, "Get the missing fact or answer, write it down, and the lot is judged again by itself.")
	default:
		steps = append(steps, "It was cut before its day. Ask your certifier what may become of it.")
	}
	return append(steps, "Write a corrective action that names this lot: cause, what became of the product, and how it is kept from happening again.")
}
