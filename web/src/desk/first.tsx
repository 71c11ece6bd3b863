// The first run: a farm is opened from the browser with the code that stands on the terminal.

import { useEffect, useState } from 'preact/hooks'
import { setLanguage, signIn } from '../book/book'
import { change, useBook } from '../book/state'
import { Finish, Text, useDraft } from '../parts/fields'
import { Languages } from '../parts/languages'
import { Helper, Page } from '../parts/page'
import { Pick, toggled } from '../parts/pick'
import { go } from '../route'
import { useWords } from '../words/words'
import { useDesk } from './words'

export const initialsOf = (name: string): string => name.split(/\s+/).map(part => [...part][0] ?? '').join('').toUpperCase().slice(0, 6)

export function First() {
  const w = useWords()
  const t = useDesk().first
  const { language } = useBook()
  const [d, put] = useDraft({ code: '', farm: '', zone: Intl.DateTimeFormat().resolvedOptions().timeZone, owner: '', initials: '', units: 'us', standards: ['us-organic', 'us-produce-safety'] })
  const [told, setTold] = useState('')
  const [open, setOpen] = useState(true)
  const [busy, setBusy] = useState(false)
  useEffect(() => {
    if (location.hash.length > 1) {
      put({ code: location.hash.slice(1) })
      history.replaceState(null, '', location.pathname)
    }
    fetch('/first-farm').then(r => r.json()).then((a: { open: boolean }) => setOpen(a.open)).catch(() => undefined)
  }, [])
  const initials = d.initials || initialsOf(d.owner)
  const missing = [!d.farm.trim() && t.farm, !d.owner.trim() && t.you, !d.code.trim() && t.code]
  const done = async (e: Event) => {
    e.preventDefault()
    if (missing.some(Boolean) || busy) return
    setBusy(true)
    try {
      const response = await fetch('/first-farm', {
        method: 'POST', headers: { 'Content-Type': 'application/json' },
        body: JSON.stringify({ code: d.code.trim(), farm: d.farm.trim(), time_zone: d.zone.trim(), units: d.units, owner: d.owner.trim(), initials, language, standards: d.standards }),
      })
      const answer = await response.json() as { token?: string; detail?: string; errors?: { detail: string }[] }
      if (!answer.token) return setTold(answer.errors?.map(x => x.detail).join(' ') || (answer.detail ?? ''))
      change({ firstToken: answer.token })
      await signIn(answer.token)
      go('/app/setup', true)
    } catch {
      setTold(w.acts.form.online)
    } finally {
      setBusy(false)
    }
  }
  if (!open) return <Page title={t.title}><p>{t.closed}</p><p><a class="go" href="/app/today">{w.signIn.go}</a></p></Page>
  return (
    <Page title={t.title} under={t.lead}>
      <Languages language={language} onLanguage={setLanguage} />
      <form onSubmit={done}>
        <Text label={t.farm} value={d.farm} onValue={farm => put({ farm })} />
        <Text label={t.you} value={d.owner} onValue={owner => put({ owner })} />
        <Text label={t.initials} value={initials} onValue={initials => put({ initials })} />
        <Text label={t.zone} value={d.zone} onValue={zone => put({ zone })} />
        <Pick legend={t.units} three chosen={[d.units]} onPick={units => put({ units })} choices={[{ id: 'us', label: t.us }, { id: 'metric', label: t.metric }]} />
        <Pick legend={t.rules} wide chosen={d.standards} onPick={id => put({ standards: toggled(d.standards, id) })}
          choices={['us-organic', 'us-produce-safety'].map(id => ({ id, label: w.sets[id] ?? id }))} />
        <p class="note">{t.rulesNote}</p>
        <Text label={t.code} value={d.code} onValue={code => put({ code })} />
        {told && <p class="told slip" role="alert" lang="en"><bdi>{told}</bdi></p>}
        <Finish missing={missing} busy={busy} label={t.go} />
      </form>
      <Helper />
    </Page>
  )
}
