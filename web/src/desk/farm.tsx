// The farm's own page, and the rules it answers to.

import { useState } from 'preact/hooks'
import { useAnswer } from '../book/now'
import type { TwoTongues } from '../book/records'
import { today } from '../book/sync'
import { inTongue } from '../parts/facts'
import { Far } from '../parts/far'
import { Text, useDraft } from '../parts/fields'
import { Helper, Name, Page } from '../parts/page'
import { day, useWords } from '../words/words'
import { Form } from './form'
import { useDesk } from './words'

interface Adopted { set: string; from: string; to?: string }
interface FarmAnswer { name: string; time_zone: string; address?: string; phone?: string; certifier?: string; standards?: Adopted[] }
interface RuleSet { id: string; name: TwoTongues; from: string; rules: unknown[] }

export function FarmPage() {
  const t = useDesk().farm
  const farm = useAnswer<FarmAnswer>('/v1/farm')
  const sets = useAnswer<RuleSet[]>('/v1/rules')
  return (
    <Page title={t.title}>
      <Far of={farm} />
      {farm.value && <Details key={JSON.stringify(farm.value)} farm={farm.value} again={farm.again} />}
      {farm.value && sets.value && <Standards key={'s' + JSON.stringify(farm.value)} farm={farm.value} sets={sets.value} again={farm.again} />}
      <Helper />
    </Page>
  )
}

function Details({ farm, again }: { farm: FarmAnswer; again: () => void }) {
  const t = useDesk().farm
  const [d, put] = useDraft({ name: farm.name, address: farm.address ?? '', phone: farm.phone ?? '', certifier: farm.certifier ?? '' })
  return (
    <Form path="/v1/farm" label={t.save} said={t.saved} missing={[!d.name.trim() && t.name]} onDone={again} body={() => ({ name: d.name.trim(), time_zone: farm.time_zone, address: d.address.trim(), phone: d.phone.trim(), certifier: d.certifier.trim() })}>
      <Text label={t.name} value={d.name} onValue={name => put({ name })} />
      <Text label={t.address} value={d.address} onValue={address => put({ address })} />
      <Text label={t.phone} value={d.phone} onValue={phone => put({ phone })} />
      <Text label={t.certifier} value={d.certifier} onValue={certifier => put({ certifier })} />
    </Form>
  )
}

function Standards({ farm, sets, again }: { farm: FarmAnswer; sets: RuleSet[]; again: () => void }) {
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
          {sets.filter(s => s.id !== 'every-farm').map(s => (
            <li key={s.id} class="sent">
              <div><b><Name>{inTongue(s.name)}</Name></b><br />{t.rules(s.rules.length)}{adopted.has(s.id) && <>, {t.from} {day(w, adopted.get(s.id)!.from)}</>}</div>
              <button type="button" aria-pressed={adopted.has(s.id)} onClick={() => toggle(s)}>{adopted.has(s.id) ? t.drop : t.adopt}<span class="unseen"> {inTongue(s.name)}</span></button>
            </li>
          ))}
        </ul>
      </Form>
    </section>
  )
}
