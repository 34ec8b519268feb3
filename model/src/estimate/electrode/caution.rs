//! Cautions about electrodes. They defer to medical law, licensed practice and local codes, and promise nothing.

use super::super::Caution;

const CURRENT: Caution = Caution {
    subject: "current into the body",
    text: "Do not pass current into a person on the strength of these numbers. Electrical stimulation is for licensed practitioners under the medical law of the place, with equipment made, tested and approved for it; whoever makes a garment that stimulates may be the maker of a medical device. The numbers are for talking with those people, and permit nothing.",
};
const IMPLANTS: Caution = Caution {
    subject: "implants",
    text: "No stimulation on anyone with a pacemaker, defibrillator, pump, stimulator, cochlear or other implanted or body-worn device, nor over metal in the body, unless the treating physician and the device's maker have both said so for that person. Ask every wearer first.",
};
const HEAD_AND_CHEST: Caution = Caution {
    subject: "head, neck and chest",
    text: "No current through the head, at the front or sides of the neck, or across the chest. Between two electrodes on the trunk, or one on each arm, it can pass through the heart and stop it. Pregnancy, epilepsy, heart disease, children, and broken, numb or inflamed skin are for a physician to decide on, never for a maker of cloth.",
};
const BURNS: Caution = Caution {
    subject: "burns under an electrode",
    text: "Current crowds where an electrode lifts, dries out or has a broken stitch, and can burn skin before it is felt; current that flows one way also etches skin and dissolves thread. The published 2 mA/cm2 r.m.s. calls for an operator's attention: below it is not safe by that. Limits of current, charge and time belong into the approved stimulator, not into the cloth.",
};
const ISOLATION: Caution = Caution {
    subject: "wearer and mains",
    text: "Whatever is joined to electrodes on a person must be isolated from mains and from every other device, charger and data lead included: battery only while worn. Equipment that measures on people falls under safety codes for medical or similar equipment; have it designed and tested by those who are licensed for that.",
};
const NO_DIAGNOSIS: Caution = Caution {
    subject: "no diagnosis, no alarm",
    text: "What a stitched electrode reads is no diagnosis, and its silence no all-clear. Movement, sweat and fit disturb it far more than the noise computed here. A garment meant to diagnose, watch over or warn is a matter of medical-device law: ask before it is promised.",
};
const BARE_SKIN: Caution = Caution {
    subject: "metal on skin",
    text: "Electrodes lie on bare skin for hours: nickel, silver, finishes and trapped sweat can irritate or sensitise, pressure can mark and cut off circulation. Follow local rules on nickel release and materials in contact with skin, try new thread on cloth and in a laboratory first, and take the garment off at the first redness or pain.",
};

/// The cautions that belong to electrodes that stimulate and to those that read, strongest first.
pub fn electrode_cautions(stimulates: bool, reads: bool) -> Vec<Caution> {
    let mut list = Vec::with_capacity(7);
    if stimulates {
        list.extend([CURRENT, IMPLANTS, HEAD_AND_CHEST, BURNS]);
    }
    if stimulates || reads {
        list.push(ISOLATION);
    }
    if reads {
        list.push(NO_DIAGNOSIS);
    }
    if stimulates || reads {
        list.push(BARE_SKIN);
    }
    list
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn stimulation_brings_the_strongest_first() {
        let subjects = |stimulates, reads| electrode_cautions(stimulates, reads).iter().map(|c| c.subject).collect::<Vec<_>>();
        let strong = ["current into the body", "implants", "head, neck and chest", "burns under an electrode"];
        assert_eq!(subjects(true, true)[..4], strong);
        assert_eq!(subjects(true, false)[..4], strong);
        assert!(!subjects(false, true).contains(&"current into the body"));
        assert!(subjects(false, false).is_empty());
        let words: String = electrode_cautions(true, true).iter().map(|c| c.text.to_lowercase()).collect();
        for word in ["licensed", "medical law", "pacemaker", "chest", "head", "permit nothing", "2 ma/cm2"] {
            assert!(words.contains(word), "{word}");
        }
    }
}
