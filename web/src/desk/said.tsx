// What the service says in English, in the language of the page where the page knows the sentence.

import type { Done } from '../book/now'
import { useBook } from '../book/state'
import { useWords } from '../words/words'
import { refusedEs } from './refused.es'

export function Said({ children: text }: { children: string }) {
  const { language } = useBook()
  const here = language === 'es' ? refusedEs(text) : text
  return <bdi lang={here === text ? 'en' : undefined}>{here}</bdi>
}

// WhyNot says why something was not done.
export function WhyNot({ of: done }: { of: Exclude<Done<unknown>, { written: unknown }> }) {
  const w = useWords()
  return 'problem' in done ? <Said>{done.problem.detail}</Said> : <>{w.acts.form.online}</>
}
