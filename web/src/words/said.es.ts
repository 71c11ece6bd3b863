// Lo que el servicio dice de un retiro y de lo que falta en una cadena. Lo dice en inglés; lo que aquí no se conoce queda como vino.

const sentences: [RegExp, string][] = [
  [/^Every (.+) is accounted for\.$/, 'Se da cuenta de todo ($1).'],
  [/^(.+) are not accounted for: trimming, wash loss or a missing record\. Say which\.$/, 'De $1 no se da cuenta: recorte, pérdida al lavar o un registro que falta. Diga cuál.'],
  [/^(.+) more are accounted for than were made: a weight or a lot is wrong\.$/, 'Se da cuenta de $1 más de lo que se hizo: un peso o un lote está mal.'],
  [/^(.+) of lot (.+) are still on the farm and not on hold\.$/, '$1 del lote $2 siguen en la granja y no están retenidos.'],
  [/^(.+) sent some of it back, and no delivery to them is on record\.$/, '$1 devolvió una parte, y no hay ninguna entrega a ellos en el libro.'],
  [/^There is no phone number or address for (.+)\.$/, 'No hay teléfono ni dirección de $1.'],
  [/^No lot in the book fits this start\.$/, 'Ningún lote del libro corresponde a este comienzo.'],
  [/^No lot in the book fits this question\.$/, 'Ningún lote del libro corresponde a esta pregunta.'],
  [/^What plot (.+) was used for before is not written down\.$/, 'No está escrito para qué se usó antes la parcela $1.'],
  [/^The seed or transplant lot of a planting is not written down\.$/, 'No está escrito el lote de semilla o de trasplante de una siembra.'],
  [/^(.+) went into lot (.+) and (.+) more came out \((.+) %\)\. Wash water is the usual reason; nobody wrote it down\.$/,
    'Entraron $1 en el lote $2 y salieron $3 más ($4 %). Lo usual es el agua de lavado; nadie lo anotó.'],
  [/^(.+) went into lot (.+) and (.+) did not come out \((.+) %\)\. Trimming and drops are the usual reasons; nobody wrote them down\.$/,
    'Entraron $1 en el lote $2 y $3 no salieron ($4 %). Lo usual es recorte o lo que se cae; nadie lo anotó.'],
  [/^If somebody may be ill, call the health department first\. Your state program and the buyers' own rules decide what is taken back\.$/,
    'Si alguien puede estar enfermo, llame primero al departamento de salud. El programa de su estado y las reglas de cada comprador deciden qué se retira.'],
]

export function saidEs(said: string): string {
  for (const [from, to] of sentences) if (from.test(said)) return said.replace(from, to)
  return said
}
