// Alerts: lots cut before their day, or judged worse now than when they were cut, what is to be done about each, and what was done.

import { useState } from 'preact/hooks'
import { useAnswer } from '../book/now'
import type { Quantity, Reason, Verdict } from '../book/records'
import { today, write } from '../book/sync'
import { Far } from '../parts/far'
import { Finish, Text, useDraft } from '../parts/fields'
import { Helper, Name, Page } from '../parts/page'
import { Reasons, VerdictWord } from '../parts/verdict'
import { go, type Place } from '../route'
import { amount, day, useWords, type Words } from '../words/words'

interface Alert { lot_id: string; code: string; crop: string; cut_on: string; then: Verdict; now: Verdict; reasons: Reason[]; on_hand: Quantity; shipped_to: unknown[] | null }

// steps say what to do with the lot, worst first; the service says the same in English to who asks it (to_do).
function steps(w: Words, a: Alert): string[] {
  const t = w.acts.alerts.steps
  const left = Number(a.on_hand.value) > 0
  return [left && t.apart(amount(w, a.on_hand)), (a.shipped_to ?? []).length > 0 && t.gone, a.now === 'stop' ? t.stop : a.now === 'ask' ? t.ask : t.early, t.write].filter(s => s !== false)
}

export function Alerts({ place }: { place: Place }) {
  const w = useWords()
  const t = w.acts.alerts
  const alerts = useAnswer<Alert[]>('/v1/alerts')
  const one = alerts.value?.find(a => a.lot_id === place.parts[1])
  if (one) return <Close alert={one} />
  return (
    <Page title={t.title} under={t.lead}>
      <Far of={alerts} />
      {alerts.value?.length === 0 && <p>{t.none}</p>}
      {alerts.value?.map(a => (
        <section class="leaf" key={a.lot_id}>
          <h2><a class="code-link" href={'/app/code/' + a.code}><Name>{a.code}</Name></a></h2>
          <p><VerdictWord verdict={a.now} /> <Name>{a.crop}</Name>, {day(w, a.cut_on)}: {a.then === a.now ? t.same(w.verdict[a.now]) : t.changed(w.verdict[a.then], w.verdict[a.now])}</p>
          <Reasons reasons={a.reasons.filter(r => r.verdict !== 'clear' && r.verdict !== 'caution')} />
          <h3>{t.todo}</h3>
          <ul class="dashes">{steps(w, a).map(line => <li key={line}>{line}</li>)}</ul>
          <p><a class="go" href={'/app/alerts/' + a.lot_id}>{t.close}<span class="unseen"> {a.code}</span></a></p>
        </section>
      ))}
      <Helper />
    </Page>
  )
}

function Close({ alert }: { alert: Alert }) {
  const w = useWords()
  const t = w.acts.alerts
  const [d, put] = useDraft({ what: '', cause: '', fate: '', fix: '', good: '' })
  const [busy, setBusy] = useState(false)
  const missing = [!d.what.trim() && t.need.what, !d.fate.trim() && t.need.fate, !d.fix.trim() && t.need.fix]
  const done = async (e: Event) => {
    e.preventDefault()
    if (missing.some(Boolean) || busy) return
    setBusy(true)
    const { id } = await write({
      path: '/v1/corrective-actions',
      body: {
        found_on: today(), what: d.what.trim(), product_fate: d.fate.trim(), fix: d.fix.trim(), lot_ids: [alert.lot_id], closed: true,
        ...(d.cause.trim() ? { cause: d.cause.trim() } : {}), ...(d.good.trim() ? { fix_for_good: d.good.trim() } : {}),
      },
      said: { act: 'action', thing: alert.code },
    })
    go('/app/entry/' + id, true)
  }
  return (
    <Page title={t.closedTitle} under={<><Name>{alert.code}</Name>, <Name>{alert.crop}</Name></>}>
      <form onSubmit={done}>
        <Text long label={t.what} value={d.what} onValue={what => put({ what })} />
        <Text long label={t.cause} value={d.cause} onValue={cause => put({ cause })} />
        <Text long label={t.fate} value={d.fate} onValue={fate => put({ fate })} />
        <Text long label={t.fix} value={d.fix} onValue={fix => put({ fix })} />
        <Text long label={t.forGood} value={d.good} onValue={good => put({ good })} />
        <Finish missing={missing} busy={busy} label={t.done} />
      </form>
      <Helper />
    </Page>
  )
}
