package storage

import "croftmark/domain"

// keepsOwner refuses a change, or with no after a void, that would leave the farm without an owner whose time does not
// end: then nobody could say any more who may come in.
func (w *writing) keepsOwner(before, after *domain.Person) error {
	lasting := func(p *domain.Person) bool { return p != nil && p.Role == domain.Owner && p.EndsOn.IsZero() }
	if !lasting(before) || lasting(after) {
		return nil
	}
	var another bool
	err := w.tx.QueryRow(w.ctx, `select exists (select from records where farm_id = $1 and kind = 'person' and not voided and id <> $2
		and body ->> 'role' = 'owner' and not body ? 'ends_on')`, w.actor.FarmID, before.ID).Scan(&another)
	if err != nil || another {
		return err
	}
	const why = "The farm would be left without an owner. Make another person owner first."
	if after == nil {
		return domain.Refuse(domain.CodeRuleRefused, "The last owner stays", why)
	}
	var p domain.Problems
	if after.Role != domain.Owner {
		p.Add("/changes/role", why)
	} else {
		p.Add("/changes/ends_on", why)
	}
	return p.Err()
}
