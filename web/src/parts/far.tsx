// What stands where an answer of the book should stand and does not.

import type { Answer } from '../book/now'
import { useWords } from '../words/words'

export function Far({ of }: { of: Answer<unknown> }) {
  const w = useWords()
  if (of.told) return <p class="why" role="alert" lang="en"><bdi>{of.told}</bdi></p>
  if (of.far) return <div class="stale" role="status"><p>{w.acts.form.online}</p><button type="button" onClick={of.again}>{w.age.reload}</button></div>
  return of.value === undefined ? <p role="status">{w.working}</p> : null
}
