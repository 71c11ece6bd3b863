// Lo mismo en español.

import type { mendEn } from './mend.en'

export const mendEs: typeof mendEn = {
  more: {
    lately: 'Anotado hace poco', holds: 'Retenciones', back: 'Devuelto', lost: 'Caja sin etiqueta', deliver: 'Llegó una entrega', test: 'Resultado de análisis de agua',
    under: {
      lately: 'ver de nuevo, enmendar un error', holds: 'retener una cama, un lote, un agua; soltarlo', back: 'lo que devuelve un comprador', lost: 'qué puede ser y qué se hace con ella',
      deliver: 'estiércol, composta, semilla, con su papel',
    },
  },
  act: {
    deliver: 'Llegó una entrega', input: 'Insumo nuevo', mend: 'Enmendado', void: 'Anulado', hold: 'Retenido', return: 'Devuelto', lost: 'Caja sin etiqueta', discard: 'Etiquetas tiradas', test: 'Análisis de agua',
  },
  again: 'Verlo, enmendar un error',
  pictures: {
    title: 'Fotos',
    take: 'Tomar una foto', choose: 'Escoger una foto o PDF', drop: 'Quitarla',
    note: 'Se hace más chica en el teléfono; el lugar donde se tomó no se manda. Un PDF se manda como está.',
    working: 'Haciéndola más chica …', unreadable: 'Esta foto no se puede leer aquí. Tómela con este teléfono o guárdela como JPEG.', large: 'Este archivo pasa de 20 MB. Mande uno más chico.',
    many: 'Un registro lleva 20 fotos cuando mucho.',
    one: n => `Foto ${n}`, count: n => n === 1 ? '1 foto' : `${n} fotos`,
    waits: (count, size) => `${count}, ${size}`,
    sending: (sent, of) => `Mandando las fotos: ${sent} de ${of}`,
    stop: 'Parar el envío', stopped: 'El envío está parado. Todo espera en este teléfono.', goOn: 'Seguir enviando',
    without: 'Mandar sin las fotos', far: 'La foto está en el libro, no en este teléfono.', open: 'Hacerla grande', close: 'Hacerla chica', paper: 'Papel (PDF)',
    add: 'Agregarle una foto',
  },
  lately: {
    title: 'Anotado hace poco', lead: 'Lo último que anotó cualquiera. Abra uno para ver cómo se hizo o para enmendar un error.',
    fromPhone: 'Sin señal. Esto es lo último que mandó este teléfono.', none: 'Todavía no se anotó nada.', by: (who, time) => `${who}, ${time}`,
    look: 'Ver',
    takeOut: 'Sacarlo', takeOutSure: 'No se ha enviado. ¿Sacarlo para siempre?', takeOutYes: 'Sí, sacarlo',
  },
  mend: {
    lead: 'Esto dice el libro ahora. Lo que se anotó primero se puede seguir leyendo.',
    which: '¿Qué está mal?', becomes: '¿Qué es lo correcto?', was: 'era', is: 'queda',
    why: '¿Por qué se enmienda?', whys: ['Error de dedo', 'Otro lugar', 'Otro día', 'Se midió de nuevo', 'Lo dijo alguien que estuvo ahí'], whyOther: 'Otra razón',
    voidWhy: '¿Por qué no cuenta?', voidWhys: ['Anotado dos veces', 'No se hizo', 'Fue en otro lugar, anotado de nuevo'],
    done: 'Listo, enmendar', all: 'Nunca pasó: anularlo', voidLead: 'Un registro anulado ya no cuenta para ningún juicio. Se puede seguir leyendo, con su razón.', voidDone: 'Listo, anular',
    addDone: 'Listo, agregarla',
    leadOnly: 'Lo que está en el libro lo enmienda el encargado o el dueño. Dígale qué está mal.',
    never: 'Un registro de esta clase no se enmienda aquí. Lo arregla otro registro.',
    far: 'Sin señal. Esto es lo que anotó este teléfono; otros pueden haberlo enmendado después.',
    voided: 'Anulado. Ya no cuenta.', written: 'anotado', corrected: 'enmendado', voidedAct: 'anulado', signed: 'firmado', other: 'se anotó más',
    history: 'Cómo se hizo', reason: 'Razón', typed: who => `escrito por ${who}`,
    late: n => n === 1 ? '1 día después de hacerlo' : `${n} días después de hacerlo`, nothing: 'nada', need: { what: 'qué está mal', right: 'qué es lo correcto', why: 'por qué' },
    kinds: {
      application: 'Echado', grazing: 'Animales', finding: 'Visto', irrigation: 'Regado', 'water-treatment': 'Agua de lavado', 'water-test': 'Análisis de agua', 'compost-temperatures': 'Pila leída', 'compost-turning': 'Pila volteada',
      'harvest-lot': 'Cortado', 'pack-lot': 'Empacado', shipment: 'Cargado', return: 'Devuelto', 'log-entry': 'Hoja', hold: 'Retención', 'input-lot': 'Entrega', 'label-print': 'Etiqueta impresa', 'label-discard': 'Etiquetas tiradas',
      'lost-label': 'Caja sin etiqueta', 'corrective-action': 'Qué se hizo', planting: 'Siembra', handling: 'Lavado', input: 'Insumo',
    },
    fields: {
      applied_on: 'Echado el', incorporated_on: 'Incorporado el', ground: 'Camas', bed_ids: 'Camas', amount: 'Cuánto', quantity: 'Cuánto', touched_crop: 'Tocó el cultivo', note: 'Nota', from: 'Desde', to: 'Hasta',
      species: 'Animales', found_at: 'Visto a las', kind: 'Qué se vio', part: 'Parte de la cama', started_at: 'Empezó a las', method: 'Cómo', ppm: 'ppm', ph: 'pH', water_temperature: 'Agua', pulp_temperature: 'Pulpa', taken_at: 'Leído a las',
      tank: 'Tanque o tina', sampled_at: 'Muestra tomada', reported_at: 'Informe del', result: 'Resultado', lab: 'Laboratorio', tap: 'Llave', readings: 'Lecturas', turned_at: 'Volteada a las', cut_on: 'Cortado el', containers: 'Cajas', shipped_at: 'Salió a las',
      reference: 'Número del papel', action: 'Qué se hizo', reason: 'Razón', supplier: 'De quién', supplier_lot: 'Número de lote de ellos', received_on: 'Llegó el', planted_on: 'Sembrado el', ended_on: 'Terminado el', values: 'Valores',
      attachments: 'Fotos', on: 'Día', crates: 'Cajas', decision: 'Decisión', may_be: 'Puede ser', spoiled: 'Dañadas', void: 'Sobrantes', customer_id: 'Comprador', lines: 'Qué', where: 'Dónde', evidence: 'Prueba', hours_away: 'Horas fuera',
      copies: 'Etiquetas', returned_at: 'Regresó', shipped: 'Cargado', lot_id: 'Lote', input_id: 'Qué', found: 'Hallado', analyte: 'Se buscó', packed_at: 'Empacado a las', product: 'Producto', released: 'Soltado', opened: 'Abierto', size: 'Etiqueta', temperature: 'Temperatura',
    },
  },
  holds: {
    title: 'Retenciones', lead: 'Lo retenido no se corta, empaca, carga ni usa hasta que el encargado lo suelte.', none: 'Nada está retenido.', open: 'Retenido', new: 'Retener algo', past: 'Soltado hace poco',
    what: '¿Qué se retiene?', kinds: { bed: 'Una cama', lot: 'Un lote', water: 'Un agua', delivery: 'Una entrega', batch: 'Una pila de composta' },
    pick: '¿Cuál?', code: 'Código del lote', notHere: code => `Este teléfono no conoce el lote ${code}.`,
    why: '¿Por qué?', whys: ['Puede estar sucio', 'Espera un resultado del laboratorio', 'Alguien vio animales', 'Se quejó un comprador', 'El proveedor lo retiró'], whyOther: 'Otra razón',
    done: 'Listo, retener', need: { what: 'qué', why: 'por qué' },
    release: 'Soltar', releaseTitle: 'Soltar la retención', releaseLead: 'Usted firma que se puede usar otra vez. Diga qué lo muestra.', releaseWhy: '¿Qué muestra que se puede usar?', releaseDone: 'Soltarlo, yo respondo',
    leadOnly: 'Lo suelta el encargado o el dueño.', by: (who, day) => `${who}, ${day}`, released: 'La retención está suelta.', put: 'Retener',
    held: (what, day) => `Retenido el ${day}, según lo anotado en este teléfono: ${what}`,
  },
  back: {
    title: 'Devuelto', who: '¿Quién lo devuelve?', what: '¿Qué regresó?', scan: 'Escanear una caja', code: 'Código de una caja o lote', add: 'Agregar', all: n => n === 1 ? '1 caja de esa carga' : `las ${n} cajas de esa carga`,
    loads: '¿De qué carga?', noLoads: 'Las cargas de este comprador no están en este teléfono. Escriba o escanee los códigos.', count: n => n === 1 ? 'regresa 1 cosa' : `regresan ${n} cosas`,
    howMuch: code => `Cuánto de ${code}`, hours: 'Horas fuera', opened: '¿Se abrió?', decision: '¿Qué se hace con eso?', temperature: 'Temperatura',
    decisions: { stock: 'De vuelta al almacén', donate: 'Regalado', compost: 'A la composta', 'animal-feed': 'A los animales', hold: 'Aparte, retenido' },
    caution: 'Nadie sabe qué le pasó fuera de la granja. Si hay duda, déjelo aparte.',
    need: { who: 'quién', what: 'qué', decision: 'qué se hace con eso', amount: code => `cuánto de ${code}` }, done: 'Listo, regresó', slip: 'Este no es un código del libro. Vea la etiqueta otra vez.',
  },
  lost: {
    title: 'Caja sin etiqueta', lead: 'Póngala aparte. Se reconoce solo con prueba, nunca por su apariencia.', where: '¿Dónde está?', places: ['Cuarto frío', 'Lavadero', 'Camioneta', 'Campo'], placeOther: 'En otro lugar', may: '¿Qué puede ser? Nombre todo lo que puede ser.',
    code: 'Código de un lote o caja', decision: '¿Qué se hace con ella?',
    decisions: { 'set-aside': 'Aparte', identified: 'Reconocida', 'carries-all': 'Lleva todos estos códigos', culled: 'No para comer' },
    evidence: '¿Qué muestra cuál caja es?', evidenceHint: 'la lista de carga con una caja de menos, un peso, otra etiqueta',
    need: { where: 'dónde', may: 'qué puede ser', decision: 'qué se hace con ella', evidence: 'qué lo muestra', one: 'un solo código, para reconocerla', two: 'dos códigos o más, para llevarlos todos' }, done: 'Listo, anotar',
  },
  labels: {
    title: 'Etiquetas tiradas', which: 'Busque primero el lote por su código.', open: 'Etiquetas dañadas o sobrantes', spoiled: 'Dañadas', void: 'Sobrantes', why: '¿Por qué?', whys: ['Manchadas', 'Rotas', 'Se imprimieron de más', 'Cambió el lote'], done: 'Listo, anotar', need: { count: 'cuántas', why: 'por qué' },
  },
  deliver: {
    title: 'Llegó una entrega', what: '¿Qué llegó?', new: 'Algo nuevo', name: 'Su nombre', category: '¿De qué clase es?', from: '¿De quién?', lot: 'Su número de lote (si tiene)', when: '¿Cuándo llegó?', howMuch: 'Cuánto',
    paper: 'Tome una foto del papel y de la etiqueta.', species: '¿De qué animales? (si es el caso)', other: 'Otra persona',
    categories: {
      'raw-manure': 'Estiércol crudo', 'aged-manure': 'Estiércol añejo', 'bought-compost': 'Composta comprada', vermicompost: 'Composta de lombriz', 'processed-manure': 'Estiércol tratado con calor', 'compost-tea': 'Té de composta', 'manure-tea': 'Té de estiércol',
      'plant-material': 'Material vegetal, mantillo', mineral: 'Mineral', 'animal-byproduct': 'Hueso, sangre, pluma, pescado', 'potting-mix': 'Sustrato', seed: 'Semilla', transplant: 'Plántulas', sanitizer: 'Desinfectante',
      'crop-protection': 'Protección del cultivo', biosolids: 'Lodos de drenaje',
    },
    need: { what: 'qué', category: 'de qué clase', from: 'de quién', howMuch: 'cuánto' }, done: 'Listo, llegó',
  },
  test: {
    title: 'Resultado de análisis de agua', sampled: '¿Cuándo se tomó la muestra?', day: 'Día', hour: 'Hora', what: '¿Qué se buscó?', ecoli: 'E. coli', coliform: 'Coliformes totales', both: 'Los dos',
    result: what => `${what}: ¿qué dice el papel?`, kinds: { none: 'No se halló (<1)', less: 'Menos de', count: 'Un número', more: 'Más de', absent: 'Ausente', present: 'Presente', pending: 'Sin resultado todavía' },
    number: what => `${what}, número`, unit: 'Unidad en el papel', lab: 'Laboratorio', method: 'Método en el papel', reported: 'Día del informe', need: { source: 'qué agua', sampled: 'a qué hora se tomó', result: 'el resultado', number: 'el número' },
    paper: 'Tome una foto del papel del laboratorio.', done: 'Listo, anotar', only: 'Solo E. coli dice si el agua sirve para un uso. Los coliformes totales se guardan al lado.',
    tested: 'Anotar un resultado de análisis',
  },
}
