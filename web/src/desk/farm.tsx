// The farm's own page, the rules it answers to, and what its labels tell.

import { useState } from 'preact/hooks'
import { useAnswer } from '../book/now'
import type { Farm, TwoTongues } from '../book/records'
import { today } from '../book/sync'
import { inTongue, sayAsker } from '../parts/facts'
import { Far } from '../parts/far'
import { OneOf, Text, useDraft } from '../parts/fields'
import { Helper, Name, Page } from '../parts/page'
import { day, useWords } from '../words/words'
import { Form } from './form'
import { Numbers, Shown } from './scanned'
import { useDesk } from './words'

interface Rule { id: string; plain: TwoTongues; authority: string; citation: string; mark: string }
interface RuleSet { id: string; name: TwoTongues; from: string; rules: Rule[] }

export function FarmPage() {
  const t = useDesk().farm
  const farm = useAnswer<Farm>('/v1/farm')
  const sets = useAnswer<RuleSet[]>('/v1/rules')
  const f = farm.value
  const as = (...own: unknown[]) => JSON.stringify(own) // a part begins anew when what it shows was saved, not when another was
  return (
    <Page title={t.title}>
      <Far of={farm} />
      {f && (
        <>
          <Details key={as(f.name, f.address, f.phone, f.contact, f.contact_phone, f.certifier, f.exemption, f.produce_safety_size, f.buyer_water_profile)} farm={f} again={farm.again} />
          {sets.value && <Standards key={as(f.standards)} farm={f} sets={sets.value} again={farm.again} />}
          <Shown key={as(f.public_page)} farm={f} again={farm.again} />
          <Numbers key={as(f.gs1_prefix, f.gs1_items)} farm={f} again={farm.again} />
        </>
      )}
      <Helper />
    </Page>
  )
}

function Details({ farm, again }: { farm: Farm; again: () => void }) {
  const w = useWords()
  const t = useDesk().farm
  const [d, put] = useDraft({
    name: farm.name, address: farm.address ?? '', phone: farm.phone ?? '', contact: farm.contact ?? '', contact_phone: farm.contact_phone ?? '', certifier: farm.certifier ?? '',
    exemption: farm.exemption ?? '', size: farm.produce_safety_size ?? '', buyer: farm.buyer_water_profile ? 'yes' : 'no',
  })
  return (
    <Form path="/v1/farm" label={t.save} said={t.saved} missing={[!d.name.trim() && t.name]} onDone={again} 
      body={() => ({
        name: d.name.trim(), time_zone: farm.time_zone, address: d.address.trim(), phone: d.phone.trim(), contact: d.contact.trim(), contact_phone: d.contact_phone.trim(), certifier: d.certifier.trim(),
        exemption: d.exemption || null, produce_safety_size: d.size || null, buyer_water_profile: d.buyer === 'yes',
      })}>
      <Text label={t.name} value={d.name} onValue={name => put({ name })} />
      <Text label={t.address} value={d.address} onValue={address => put({ address })} />
      <Text label={t.phone} value={d.phone} onValue={phone => put({ phone })} />
      <Text label={t.contact} value={d.contact} onValue={contact => put({ contact })} />
      <Text label={t.contactPhone} value={d.contact_phone} onValue={contact_phone => put({ contact_phone })} />
      <Text label={t.certifier} value={d.certifier} onValue={certifier => put({ certifier })} />
      <OneOf legend={t.covered} of={t.exemptions} value={d.exemption} onValue={exemption => put({ exemption })} />
      <OneOf legend={t.size} of={t.sizes} value={d.size} onValue={size => put({ size })} />
      <OneOf legend={t.buyerWater} of={{ no: w.acts.form.no, yes: w.acts.form.yes }} value={d.buyer} onValue={buyer => put({ buyer })} />
    </Form>
  )
}

function Standards({ farm, sets, again }: { farm: Farm; sets: RuleSet[]; again: () => void }) {
  const w = useWords()
  const t = useDesk().farm
  const [list, setList] = useState(farm.standards ?? [])
  const adopted = new Map(list.map(s => [s.set, s]))
  const toggle = (set: RuleSet) => setList(adopted.has(set.id) ? list.filter(s => s.set !== set.id) : [...list, { set: set.id, from: today() }])
  return (
    <section class="leaf">
      <h2>{t.adopted}</h2>
      <Form path="/v1/farm" label={t.save} said={t.saved} missing={[]} onDone={again} body={() => ({ name: farm.name, time_zone: farm.time_zone, standards: list })}>
        <ul class="plain">
          {sets.map(s => (
            <li key={s.id}>
              <div class="sent">
                <div><b><Name>{inTongue(s.name)}</Name></b>{adopted.has(s.id) && <><br />{t.from} {day(w, adopted.get(s.id)!.from)}</>}</div>
                {s.id !== 'every-farm' && <button type="button" aria-pressed={adopted.has(s.id)} onClick={() => toggle(s)}>{adopted.has(s.id) ? t.drop : t.adopt}<span class="unseen"> {inTongue(s.name)}</span></button>}
              </div>
              <RulesOf set={s} />
            </li>
          ))}
        </ul>
      </Form>
    </section>
  )
}

// RulesOf says what the rules of a set ask for, who says so, and which of them nobody has held against their source.
function RulesOf({ set }: { set: RuleSet }) {
  const w = useWords()
  const t = useDesk().farm
  return (
    <details>
      <summary>{t.rules(set.rules.length)}<span class="unseen"> {inTongue(set.name)}</span></summary>
      <ul class="dashes">
        {set.rules.map(r => <li key={r.id}>{inTongue(r.plain)}<p class="cite">{sayAsker(w, r)}</p></li>)}
      </ul>
    </details>
  )
}
