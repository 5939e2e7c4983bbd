/**
 * All that is told of one delivery, in an order in which nothing refers forward: gateway, meter, strips, person, the
 * meter's clock, then the Observations, and last the Provenance, which says that the delivery is whole. Pure.
 */
import { formatInstant, type Instant } from '../../core/instant.ts';
import type { Delivery } from '../outlet.ts';
import { clockStampOf, gatewayOf, meterOf, patientOf, stripsOf } from './context.ts';
import {
  clockKey,
  deliveryName,
  gatewayKey,
  meterKey,
  patientKey,
  provenanceKey,
  type ResourceKey,
  stripsKey,
} from './keys.ts';
import { coded, isShiftedByClock, observationsOf, personOf, type Speaker, toKey } from './observation.ts';
import type { FhirResource, Provenance, Reference } from './resources.ts';

/** One resource on its way. */
export interface Telling {
  readonly key: ResourceKey;
  /** Made when it is asked for: most of what is shared has been told already. */
  readonly make: () => FhirResource;
  /** `once`: left alone where the receiver has it. `newest`: takes the place of what the receiver has. */
  readonly manner: 'once' | 'newest';
  /** True for what many deliveries share. */
  readonly isShared: boolean;
}

/** Everything of one delivery. `now` is when it is told: `issued` and `recorded`. */
export function tellDelivery(delivery: Delivery, speaker: Speaker, now: Instant): readonly Telling[] {
  const { reading, before, isWithdrawn } = delivery;
  const { systems, site } = speaker;
  const { lot, clock } = reading;
  const shared = (key: ResourceKey, make: () => FhirResource): Telling => ({
    key,
    make,
    manner: 'once',
    isShared: true,
  });
  const personId = personOf(delivery);
  const person =
    personId === reading.patient?.id ? reading.patient : personId === undefined ? undefined : { id: personId };
  const observations = observationsOf(delivery, speaker, now);
  const manner = before || isWithdrawn ? 'newest' : 'once';
  return [
    shared(gatewayKey(systems, site), () => gatewayOf(systems, site)),
    shared(meterKey(systems, reading.meter), () => meterOf(systems, reading)),
    ...(lot === undefined
      ? []
      : [
          shared(stripsKey(systems, reading.meter, lot, reading.lotExpiry ?? ''), () =>
            stripsOf(systems, { ...reading, lot }),
          ),
        ]),
    ...(person ? [shared(patientKey(systems, person.id), () => patientOf(systems, person))] : []),
    ...(clock && isShiftedByClock(delivery)
      ? [shared(clockKey(systems, reading), () => clockStampOf(speaker, { ...reading, clock }))]
      : []),
    ...observations.map(({ key, resource }): Telling => ({ key, make: () => resource, manner, isShared: false })),
    {
      key: provenanceKey(systems, delivery),
      make: () => {
        const targets = observations.map(({ key }) => toKey(speaker, key));
        return provenanceOf(delivery, speaker, now, targets);
      },
      manner: 'once',
      isShared: false,
    },
  ];
}

/** Who told it and from which download. The tag makes a Provenance, which has no identifier in R4, known again. */
function provenanceOf(delivery: Delivery, speaker: Speaker, now: Instant, target: readonly Reference[]): Provenance {
  const { reading, before, isWithdrawn } = delivery;
  const { systems, site } = speaker;
  const activity = isWithdrawn ? 'NULLIFY' : before ? 'UPDATE' : 'CREATE';
  return {
    resourceType: 'Provenance',
    meta: { tag: [{ system: systems.provenance, code: deliveryName(delivery) }] },
    target,
    occurredDateTime: formatInstant(reading.downloadedAt),
    recorded: formatInstant(now),
    activity: {
      coding: [{ system: 'http://terminology.hl7.org/CodeSystem/v3-DataOperation', code: activity }],
    },
    agent: [
      {
        type: coded('http://terminology.hl7.org/CodeSystem/provenance-participant-type', 'assembler', 'Assembler'),
        who: toKey(speaker, gatewayKey(systems, site)),
      },
    ],
    entity: [
      {
        role: 'source',
        what: {
          identifier: { system: systems.download, value: reading.firstDownload },
          display: `Download ${reading.firstDownload}, the bytes of which are kept by the gateway`,
        },
      },
    ],
  };
}
