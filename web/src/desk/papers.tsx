// Papers to hand over or to hang up: the binder for an inspection, the traceability plan, blank forms, and the calendar of
// what is due.

import { useState } from 'preact/hooks'
import { addDays } from '../book/days'
import { doNow } from '../book/now'
import { useBook } from '../book/state'
import { today } from '../book/sync'
import { inTongue } from '../parts/facts'
import { OneOf, Text, useDraft } from '../parts/fields'
import { Helper, Name, Page } from '../parts/page'
import { Pick } from '../parts/pick'
import { FileButton } from '../parts/picture'
import { useWords } from '../words/words'
import { Once } from './once'
import { useDesk } from './words'

export function Papers() {
  const t = useDesk().papers
  const { language, known } = useBook()
  const [size, setSize] = useState(known?.farm.units === 'metric' ? 'a4' : 'letter')
  return (
    <Page title={t.title} under={t.lead}>
      <OneOf legend={t.size} of={t.sizes} value={size} onValue={setSize} />
      <section class="leaf"><h2>{t.binder}</h2><Binder size={size} /></section>
      <section class="leaf">
        <h2>{t.plan}</h2>
        <p>{t.planLead}</p>
        <p class="acts"><FileButton path={`/v1/plan.pdf?size=${size}&language=${language}`} name="traceability-plan.pdf">{t.getPlan}</FileButton></p>
      </section>
      <section class="leaf">
        <h2>{t.forms}</h2>
        <p>{t.formsLead}</p>
        <ul class="cards">
          {known?.sheets?.map(s => <li key={s.key}><FileButton path={`/v1/log-sheets/${encodeURIComponent(s.key)}/form.pdf?size=${size}&language=${language}`} name={s.key + '.pdf'}>{inTongue(s.title)}</FileButton></li>)}
        </ul>
      </section>
      <section class="leaf"><h2>{t.calendar}</h2><Calendar /></section>
      <Helper />
    </Page>
  )
}

function Binder({ size }: { size: string }) {
  const t = useDesk().papers
  const { known } = useBook()
  const [d, put] = useDraft({ scope: 'produce-safety', from: addDays(today(), -365), to: today(), crop: '' })
  const asked = new URLSearchParams({ scope: d.scope, from: d.from, to: d.to, size, ...(d.crop ? { crop: d.crop } : {}) })
  const crops = [...new Set(known?.crops.map(c => c.name) ?? [])].sort((a, b) => a.localeCompare(b))
  return (
    <>
      <p>{t.binderLead}</p>
      <OneOf legend={t.scope} of={t.scopes} value={d.scope} onValue={scope => put({ scope })} />
      <div class="pair">
        <Text kind="date" label={t.from} value={d.from} onValue={from => put({ from })} />
        <Text kind="date" label={t.to} value={d.to} onValue={to => put({ to })} />
      </div>
      <Pick legend={t.crop} chosen={[d.crop]} onPick={crop => put({ crop: crop === d.crop ? '' : crop })} choices={crops.map(c => ({ id: c, label: <Name>{c}</Name> }))} />
      <p class="acts"><FileButton main path={'/v1/binder.pdf?' + asked} name={`binder-${d.scope}-${d.to}.pdf`}>{t.getBinder}</FileButton></p>
    </>
  )
}

function Calendar() {
  const w = useWords()
  const t = useDesk().papers
  const [url, setUrl] = useState('')
  const [told, setTold] = useState('')
  const ask = async (path: string, said: string) => {
    const done = await doNow<{ url?: string }>(path, {})
    if ('written' in done) { setUrl(done.written?.url ?? ''); setTold(said) } else setTold('problem' in done ? done.problem.detail : w.acts.form.online)
  }
  return (
    <>
      <p>{t.calendarLead}</p>
      {url && <Once secret={url} onDone={() => setUrl('')} />}
      {told && <p role="status"><bdi>{told}</bdi></p>}
      <p class="acts">
        <button type="button" onClick={() => void ask('/v1/calendar-address', '')}>{t.newCalendar}</button>
        <button type="button" onClick={() => void ask('/v1/calendar-address/end', t.calendarEnded)}>{t.endCalendar}</button>
      </p>
    </>
  )
}
