"""Written by scripts/extract_words.py for the extractor of gettext; nothing imports it."""

from django.utils.translation import gettext_noop as _

WORDS = (
    _("Under 18 on the day of treatment, where the law forbids it"),
    _("Products from 0.1 to 6 % may not be used on anybody under 18, supervised or not."),
    _(
        "Do not plan whitening. If a dentist thinks treatment is needed for disease, that is a separate route outside this program."
    ),
    _("the 18th birthday"),
    _("Under 18 on the day of treatment, where no age is written in law"),
    _(
        "No age in law was found here. The paediatric academy asks for a professional examination first, and this program plans for adults only."
    ),
    _(
        "Wait for the 18th birthday. If a dentist thinks treatment is needed for disease, that is a separate route outside this program."
    ),
    _("Milk teeth in the area to be whitened"),
    _(
        "Whitening a whole arch is discouraged while milk teeth stand: the pulps are large, and the colours part again when the adult teeth come."
    ),
    _("Do not whiten the arch."),
    _("an examination finds adult teeth only"),
    _("Allergy to peroxide, known or suspected"),
    _("The active agent itself: no gel is without it."),
    _("Use no peroxide gel. Refer when the diagnosis is unclear."),
    _("an allergist rules it out in writing"),
    _("Allergy to acrylates, known or suspected"),
    _(
        "The light-cured barrier is a methacrylate resin. Of 1322 dental patients tested by patch 2.3 % reacted; a wearer of gel nails swelled after dental resin."
    ),
    _("Use no light-cured barrier: plan isolation without resin or another technique, and offer a patch test."),
    _("a patch test is negative"),
    _("No valid consent for the plan in force"),
    _(
        "Consent comes out of a talk and before treatment. A signature under another plan is not a signature under this one."
    ),
    _("Talk the plan through, then sign and countersign it."),
    _("the plan in force is signed and not withdrawn"),
    _("Inflamed gums"),
    _("Even 3 % peroxide may harm tissue that is already injured; care is advised in gingivitis and periodontitis."),
    _("Hygiene care, then look again; 14 days unless the clinician says otherwise."),
    _("the bleeding has gone"),
    _("Periodontitis, untreated or active"),
    _("Peroxide on diseased gums may do harm, and receding roots do not whiten."),
    _("Treat it and reach a stable state first."),
    _("a stable state is recorded"),
    _("An ulcer, sore or burn in the mouth"),
    _("Peroxide is to be kept off damaged or diseased soft tissue."),
    _("Wait until it has healed; 14 days unless the clinician says otherwise. A sore older than 3 weeks is referred."),
    _("seen to be healed"),
    _("A suspicious patch, or cancer or its forerunner in the mouth before"),
    _("Animal models point to a promoting effect; peroxide is to be kept off diseased tissue."),
    _("Do not whiten. When it is new, refer urgently."),
    _("a specialist clears it in writing"),
    _("A cold sore"),
    _("It spreads, the mouth opener hurts it, and light may bring it on."),
    _("Wait until the crusts have gone; 10 days unless the clinician says otherwise."),
    _("the skin is whole again"),
    _("A course of whitening in the last 6 months"),
    _("About once a year is enough, says a dental association's spokesman; treating again adds unwanted effects."),
    _("Wait until 180 days have passed. Topping up earlier is a dentist's decision."),
    _("180 days since the last course"),
    _("Whitening at home at the same time"),
    _("The doses add up, and the starting colour is not steady."),
    _("Stop the whitening at home and wait 14 days."),
    _("14 days without whitening at home"),
    _("No cleaning in the last 6 months, or stain or calculus on the teeth"),
    _("Deposits keep the gel off and falsify the shade; the EU opinion asks for clean surfaces."),
    _("Have the teeth cleaned first, then take the starting shade."),
    _("cleaned"),
    _("The planned gel is stronger than the rules here allow"),
    _(
        "Where a cap exists it counts the hydrogen peroxide that is present or released as used, so carbamide counts by what it releases."
    ),
    _("Choose a gel within the limit. The plan cannot be kept with this one."),
    _("the plan names a gel within the limit"),
    _("The person at the chair may not carry this out here, or the prescription is missing"),
    _(
        "Above 0.1 % whitening belongs to dentists, or to the professions named under them; courts have treated it as dentistry."
    ),
    _("Name somebody who may carry it out and, where it is needed, who prescribed it."),
    _("somebody who may, and the prescriber, are recorded"),
    _("No examination is recorded for this course"),
    _(
        "The first use of each course follows an examination that rules out risk factors and oral disease. A new course needs a new one."
    ),
    _("Book the examination first."),
    _("somebody who may examine here records an examination in this course"),
    _("Psoralen or another light-activating treatment"),
    _("It makes skin and mouth strongly sensitive to light, for days to three months depending on the agent."),
    _("Use no light and do not treat until the prescriber has named a date on which it ends."),
    _("the date that the prescriber gave in writing has passed"),
    _("Porphyria or xeroderma pigmentosum"),
    _("People with erythropoietic protoporphyria were burned by operating lights and react to light indoors."),
    _("No whitening light and no curing light near the gums without the specialist. Shield the chair light too."),
    _("a specialist's written plan"),
    _("An illness that light brings on: lupus, sun rash, solar urticaria, albinism"),
    _("Such illnesses head the lists of those who may not have light treatment."),
    _("No light. Whitening without light only when the dermatologist agrees."),
    _("the dermatologist agrees in writing, and the plan has no light"),
    _("Skin cancer of face or lips before"),
    _(
        "Practice forms leave out melanoma; in a 2009 test ultraviolet lamps gave up to four times the dose of a midsummer afternoon."
    ),
    _("Plan without a light."),
    _("the plan has no light"),
    _("Flashing light brings on fits or migraine"),
    _("Pulsed blue light may set one off."),
    _("Plan without a light, and cover the eyes while the barrier is cured."),
    _("The list of medicines has not been checked"),
    _(
        "393 medicines are reported to make people sensitive to light, with very uneven evidence. Whether a light may be used depends on the list."
    ),
    _(
        "Read the list with the patient and record that it was checked. Never tell a patient to stop a prescribed medicine."
    ),
    _("the list is recorded and checked"),
    _("Acatalasaemia, known or suspected"),
    _(
        "Without catalase peroxide is not broken down: blood darkens, gums ulcerate and die. About 2 in 100,000 in Japan, families elsewhere."
    ),
    _("Use no peroxide. When it is only suspected, refer for the enzyme test."),
    _("the enzyme test is normal"),
    _("Pregnant, or may be"),
    _(
        "Nothing is known about safety and the treatment can wait. The paediatric academy discourages it in pregnancy and an EU committee wanted a warning."
    ),
    _("Postpone until after the birth, then ask about breastfeeding."),
    _("after the birth, or the patient says that she is not pregnant"),
    _("Breastfeeding"),
    _("There are no studies. Most practice lists leave it out, some clinicians allow it: the sources disagree."),
    _("Postpone until feeding has ended, or decide together with the patient and record why."),
    _("feeding has ended, or a dentist decides"),
    _("Untreated decay"),
    _("Through a cavity peroxide reaches the pulp. The EU opinion: diagnose and treat before whitening."),
    _("Restore or seal first, whiten then, and match the final filling to the new colour."),
    _("restored or sealed"),
    _("A leaking, broken or lost filling"),
    _("The EU opinion asks that defective restorations are replaced first."),
    _("Repair it, or close it for now, before whitening."),
    _("repaired or closed"),
    _("A filling or crown younger than 14 days"),
    _("Reported from the EU opinion: not just before and not just after restorative work. The 14 days are convention."),
    _("Wait until the 14th day after it was placed."),
    _("14 days since it was placed"),
    _("A crack or fracture that hurts"),
    _("Peroxide tracks along it to the pulp."),
    _("Find the tooth and treat it; leave it out, or wait."),
    _("treated"),
    _("Bare dentine that the barrier cannot cover"),
    _("Peroxide on bare dentine hurts and goes straight to the pulp."),
    _("Restore or graft first, or leave the tooth out."),
    _("restored"),
    _("Teeth sensitive to cold, 4 or more of 10"),
    _("From about 4 pain counts as moderate, and trials leave sensitive teeth out."),
    _("Look for the cause, desensitise for 14 days, ask again."),
    _("the score is under 4"),
    _("An inflamed pulp, or disease at the root tip"),
    _("Active disease at the root tip is on the lists of contraindications."),
    _("Treat it first."),
    _("treated and quiet"),
)
