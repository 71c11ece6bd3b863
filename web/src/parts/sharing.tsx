// Making a phone a shared one, and one's own PIN.

import { useState } from 'preact/hooks'
import { sharePhone } from '../book/book'
import { doNow } from '../book/now'
import { useBook } from '../book/state'
import { go } from '../route'
import { useWords } from '../words/words'
import { Text } from './fields'

export function OwnPin() {
  const w = useWords()
  const t = w.phone
  const { known } = useBook()
  const [pin, setPin] = useState('')
  const [told, setTold] = useState('')
  const me = known?.me
  if (!me) return null
  const set = async (e: Event) => {
    e.preventDefault()
    const done = await doNow(`/v1/people/${me.person_id}/pin`, { pin })
    setTold('written' in done ? t.pinSet : 'problem' in done ? done.problem.errors?.[0]?.detail ?? done.problem.detail : w.acts.form.online)
    if ('written' in done) setPin('')
  }
  return (
    <form onSubmit={set}>
      <h2>{t.own}</h2>
      <p>{t.ownLead}</p>
      <label class="field">{t.newPin}<input type="password" inputMode="numeric" autocomplete="new-password" value={pin} onInput={e => setPin(e.currentTarget.value.replace(/\D/g, '').slice(0, 8))} /></label>
      {told && <p class="note" role="status"><bdi>{told}</bdi></p>}
      <p class="acts"><button disabled={pin.length < 4}>{t.setPin}</button></p>
    </form>
  )
}

export function Share() {
  const w = useWords()
  const t = w.phone
  const { queue } = useBook()
  const [label, setLabel] = useState('')
  const [told, setTold] = useState('')
  const share = async (e: Event) => {
    e.preventDefault()
    if (!label.trim()) return
    const problem = await sharePhone(label.trim())
    setTold(problem === 'no-signal' ? w.acts.form.online : problem)
    if (!problem) go('/app/switch')
  }
  return (
    <form onSubmit={share}>
      <h2>{t.share}</h2>
      <p>{t.shareLead}</p>
      {queue.length > 0 ? <p class="why">{w.me.signOutWaits(queue.length)}</p> : (
        <>
          <Text label={t.label} value={label} onValue={setLabel} />
          {told && <p class="told slip" role="alert"><bdi>{told}</bdi></p>}
          <p class="acts"><button disabled={!label.trim()}>{t.shareGo}</button></p>
        </>
      )}
    </form>
  )
}
